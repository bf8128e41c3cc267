package settings

import (
	"strings"

	"github.com/spf13/pflag"

	"gritward/internal/forecast/endpoint"
)

// forecastFlags adds the flags that say where forecasts come from.
func forecastFlags(flags *pflag.FlagSet) {
	flags.String("forecast-url", "", "https address of a weather service for point forecasts (default none)")
	flags.String("forecast-user-agent", "", "who asks that service and how to reach them, for example \"club.example secretary@club.example\"")
	flags.String("forecast-name", "", "what the service is called on plans and briefs (default the name of its host)")
	flags.Duration("forecast-timeout", 0, "how long to wait for the service (default 10s)")
	flags.Duration("forecast-max-age", 0, "how old a forecast may be to be relied on (default 12h)")
}

// maxAgent is the longest user agent, in bytes: more than any needs.
const maxAgent = 200

// wrongForecast says what is wrong with the settings of the weather service.
func (m merged) wrongForecast(s Server) Problems {
	problems := append(m.within("forecast_timeout", s.ForecastTimeout), m.within("forecast_max_age", s.ForecastMaxAge)...)
	if len(s.ForecastName) > maxName {
		problems = append(problems, m.problem("forecast_name", "is longer than %d bytes", maxName))
	}
	if s.ForecastURL == "" {
		return problems
	}
	if _, err := endpoint.Address(s.ForecastURL); err != nil {
		problems = append(problems, m.problem("forecast_url", "%v", err))
	}
	switch agent := s.ForecastUserAgent; {
	case agent == "":
		problems = append(problems, m.problem("forecast_user_agent",
			"must say who asks and how to reach them, as weather services want it: \"club.example secretary@club.example\""))
	case len(agent) > maxAgent || strings.ContainsFunc(agent, func(r rune) bool { return r < ' ' || r > '~' }):
		problems = append(problems, m.problem("forecast_user_agent", "must be plain letters, digits and signs (ASCII), up to %d", maxAgent))
	case !strings.ContainsAny(agent, "@."):
		problems = append(problems, m.problem("forecast_user_agent", "must hold an e-mail address or the address of a page, so that you can be reached"))
	}
	return problems
}

// maxName is the longest name of a service, in bytes, as the protocol has it.
const maxName = 100
