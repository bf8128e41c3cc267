package store

import (
	"context"
	"time"
)

type ageKey struct{}

// WithAge lets a View with this context show the club as it was the newest at some moment up to most ago, where the engine has that at
// hand and would have to ask other machines for more. What the same Store has committed or shown before is in it all the same.
func WithAge(ctx context.Context, most time.Duration) context.Context {
	return context.WithValue(ctx, ageKey{}, most)
}

// AgeOf is what WithAge allows; 0: nothing.
func AgeOf(ctx context.Context) time.Duration {
	most, _ := ctx.Value(ageKey{}).(time.Duration)
	return most
}
