package loop

import (
	"context"
	"fmt"

	"pourward/model/plan"
)

// look is a question of how the air of a place may go, on its way to the loop.
type look struct {
	place  string
	answer chan<- sighted
}

type sighted struct {
	sight plan.Sight
	err   error
}

// Sight returns how the air of a place may go, and what the shop knows of its materials, for whoever plans.
// Anyone may call it while Run runs.
func (l *Loop) Sight(ctx context.Context, place string) (plan.Sight, error) {
	back := make(chan sighted, 1)
	select {
	case l.looks <- look{place, back}:
	case <-l.ended:
		return plan.Sight{}, fmt.Errorf("ask the shop loop about the air to come: %w", errEnded)
	case <-ctx.Done():
		return plan.Sight{}, fmt.Errorf("ask the shop loop about the air to come: %w", ctx.Err())
	}
	select {
	case s := <-back:
		return s.sight, s.err
	case <-ctx.Done():
		return plan.Sight{}, fmt.Errorf("wait for the air to come: %w", ctx.Err())
	}
}

func (l *Loop) sight(place string) sighted {
	s, err := l.shop.Sight(place, l.now())
	return sighted{s, err}
}
