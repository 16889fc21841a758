package loop

import (
	"context"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// Memory is a [Record] that keeps marks and nothing else, for a replay that is over when it ends.
type Memory struct{ marks []model.Mark }

// AppendReading keeps nothing.
func (*Memory) AppendReading(sensors.Reading) error { return nil }

// AppendMark numbers the mark.
func (m *Memory) AppendMark(_ context.Context, x model.Mark) (model.Mark, error) {
	x.ID = int64(len(m.marks) + 1)
	m.marks = append(m.marks, x)
	return x, nil
}

// Flush has nothing to do.
func (*Memory) Flush(context.Context) error { return nil }

// Waiting is always zero.
func (*Memory) Waiting() int { return 0 }

// Marks returns the marks in the order they came.
func (m *Memory) Marks(context.Context) ([]model.Mark, error) { return m.marks, nil }

// Readings yields nothing.
func (*Memory) Readings(context.Context, time.Time, time.Time, func(sensors.Reading) error) error {
	return nil
}

// Span is empty.
func (*Memory) Span(context.Context) (first, last time.Time, err error) { return }
