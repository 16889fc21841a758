package longhand_test

import (
	"context"
	"time"

	"pourward/model"
	"pourward/sensors"
)

// notebook is a record in memory: what is put into it can be written out again.
type notebook struct {
	probes   []string
	boots    []sensors.Boot
	shifts   []sensors.Shift
	marks    []model.Mark
	readings []sensors.Reading
}

func (n *notebook) PutProbe(_ context.Context, name string) error {
	n.probes = append(n.probes, name)
	return nil
}

func (n *notebook) PutBoot(_ context.Context, b sensors.Boot) error {
	n.boots = append(n.boots, b)
	return nil
}

func (n *notebook) PutShift(_ context.Context, s sensors.Shift) error {
	n.shifts = append(n.shifts, s)
	return nil
}

func (n *notebook) PutMark(_ context.Context, m model.Mark) error {
	n.marks = append(n.marks, m)
	return nil
}

func (n *notebook) PutReading(_ context.Context, r sensors.Reading) error {
	n.readings = append(n.readings, r)
	return nil
}

func (n *notebook) Probes(context.Context) ([]string, error)        { return n.probes, nil }
func (n *notebook) Boots(context.Context) ([]sensors.Boot, error)   { return n.boots, nil }
func (n *notebook) Shifts(context.Context) ([]sensors.Shift, error) { return n.shifts, nil }
func (n *notebook) Marks(context.Context) ([]model.Mark, error)     { return n.marks, nil }

func (n *notebook) Readings(_ context.Context, _, _ time.Time, yield func(sensors.Reading) error) error {
	for _, r := range n.readings {
		if err := yield(r); err != nil {
			return err
		}
	}
	return nil
}
