package main

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	sd "github.com/coreos/go-systemd/v22/daemon"

	"pourward/model"
)

// minder tells the service manager that started the daemon how it does, in the way of sd_notify(3): that it
// is ready, that it lives, that it ends.
type minder struct {
	every time.Duration // how often to tell that it lives
	tell  func(state string) error
}

// tellsMinder is how often the status is told where the service manager does not watch for a sign of life.
const tellsMinder = time.Minute

// newMinder is nil where no service manager waits to be told.
func newMinder(log *slog.Logger) (*minder, error) {
	told, err := sd.SdNotify(false, "STATUS=Reading the record.")
	if err != nil {
		return nil, fmt.Errorf("tell the service manager: %w; it names a socket in NOTIFY_SOCKET that nobody hears at", err)
	}
	if !told {
		return nil, nil
	}
	within, err := sd.SdWatchdogEnabled(false)
	if err != nil {
		return nil, fmt.Errorf("read from WATCHDOG_USEC how often the service manager wants a sign of life: %w", err)
	}
	m := &minder{every: tellsMinder, tell: func(state string) error {
		_, err := sd.SdNotify(false, state)
		if err != nil {
			log.Warn("the service manager could not be told", "error", err)
		}
		return err
	}}
	if within > 0 {
		m.every = within / 3 // one may come late, and one be lost
	}
	return m, nil
}

// turner is the shop loop as the minder sees it.
type turner interface {
	Turn(context.Context) error
	Snapshot() *model.Snapshot
}

// run gives signs of life until ctx ends. Each is given only after the loop has come round, so that a loop that
// hangs falls silent, and the service manager can start the daemon anew.
func (m *minder) run(ctx context.Context, l turner) {
	defer func() { _ = m.tell(sd.SdNotifyStopping + "\nSTATUS=Making everything safe.") }() // it is logged
	tick := time.NewTicker(m.every)
	defer tick.Stop()
	for state := sd.SdNotifyReady; ; state = sd.SdNotifyWatchdog {
		if l.Turn(ctx) != nil {
			return
		}
		_ = m.tell(state + "\nSTATUS=" + standing(l.Snapshot())) // it is logged
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		}
	}
}

// standing is the shop in one line.
func standing(s *model.Snapshot) string {
	heard, open := 0, 0
	for _, p := range s.Outlook.Probes {
		if !p.Silent {
			heard++
		}
	}
	for _, m := range s.Outlook.Molds {
		if m.Open() {
			open++
		}
	}
	line := fmt.Sprintf("%d of %s heard, %s open.", heard, several(len(s.Outlook.Probes), "probe"), several(open, "mold"))
	if s.Health.Journal.Err != "" {
		line += " The journal fails: " + s.Health.Journal.Err
	}
	return line
}
