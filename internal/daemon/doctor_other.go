//go:build !linux

package daemon

import (
	"context"

	"gritward/internal/vitals"
)

func kept() (synchronised, known bool) { return false, false }

func limitsOfSystem(context.Context) []vitals.Finding {
	return well("limits", "not looked at on this system")
}
