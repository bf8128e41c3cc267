package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/pace"
	pb "gritward/proto/gritward/v1"
)

// paceFigure is one line of the answer of "pace --json".
type paceFigure struct {
	Name    string  `json:"name"`
	Unit    string  `json:"unit"` // "" for a plain number
	Default float64 `json:"default"`
	Min     float64 `json:"min"`
	Max     float64 `json:"max"`
	What    string  `json:"what"`
	Source  string  `json:"source"`
}

func (a *app) pace() *cobra.Command {
	cmd := &cobra.Command{
		Use: "pace", Short: "The figures that a group's times are reckoned with (no server needed)",
		Long: "Lists each figure with its default, its range and where the default comes from. A leader sets one for a group\n" +
			"where the group is given: --group easy:18,crr=0.008,cap_wet_kmh=35; none takes it back to its default.",
		Example: "  gritward pace", Args: cobra.NoArgs,
	}
	return a.offline(cmd, func([]string) error {
		var figures []paceFigure
		for _, f := range pace.Parameters() {
			figures = append(figures, paceFigure{f.Name, f.Unit, f.Default, f.Min, f.Max, f.What, f.Source})
		}
		return a.answerJSON(figures, func(p *page) {
			for _, f := range figures {
				p.line("%s  %s", f.Name, f.What)
				p.line("    default %s, %s to %s", strings.TrimSpace(fmt.Sprintf("%.4g %s", f.Default, f.Unit)), number(f.Min), number(f.Max))
				p.line("    from: %s", f.Source)
			}
		})
	})
}

// figuresSet tells which figures a leader set for a group; "" for none.
func figuresSet(settings *pb.PaceSettings) string {
	var set []string
	for _, f := range pace.Parameters() {
		field := settings.ProtoReflect().Descriptor().Fields().ByName(protoreflect.Name(f.Name))
		if settings.ProtoReflect().Has(field) {
			set = append(set, f.Name+"="+number(settings.ProtoReflect().Get(field).Float()))
		}
	}
	return strings.Join(set, ", ")
}
