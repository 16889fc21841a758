package deliver

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"pourward/alerts"
)

// load reads the books into b. A target that is new has all to hear that stands; of what is no target any more
// nothing is kept.
func (s *store) load(ctx context.Context, b *book, now time.Time) error {
	if err := s.loadEpisodes(ctx, b); err != nil {
		return fmt.Errorf("read the books of messages: %w", err)
	}
	known := map[string]bool{}
	for _, t := range b.targets {
		known[t] = true
	}
	if err := s.loadShares(ctx, b, known, now); err != nil {
		return fmt.Errorf("read the books of messages: %w", err)
	}
	if err := s.loadSending(ctx, b, known); err != nil {
		return fmt.Errorf("read the books of messages: %w", err)
	}
	return s.save(ctx, b.settle(), nil)
}

// settle fits books that were read to the targets of today.
func (b *book) settle() (c changes) {
	for _, e := range b.all() {
		if !e.ended.IsZero() && len(e.open) == 0 {
			delete(b.episodes, e.id)
			c.drop = append(c.drop, e.id)
		}
		for _, t := range b.targets {
			if e.ended.IsZero() && e.open[t] == nil {
				e.open[t] = &share{due: time.Now()}
				c.put = append(c.put, e)
			}
		}
	}
	return c
}

func (s *store) loadEpisodes(ctx context.Context, b *book) error {
	return s.each(ctx, "SELECT id, alert, ended FROM episode", func(scan func(...any) error) error {
		var id, ended int64
		var text string
		if err := scan(&id, &text, &ended); err != nil {
			return err
		}
		var a alerts.Alert
		if err := json.Unmarshal([]byte(text), &a); err != nil {
			return err
		}
		e := &episode{id: id, alert: a, open: map[string]*share{}}
		if ended != 0 {
			e.ended = time.Unix(0, ended).UTC()
		}
		b.episodes[id], b.last = e, max(b.last, id)
		return nil
	})
}

func (s *store) loadShares(ctx context.Context, b *book, known map[string]bool, now time.Time) error {
	return s.each(ctx, "SELECT episode, target, began, ended, held FROM share", func(scan func(...any) error) error {
		var id int64
		var target string
		var sh share
		if err := scan(&id, &target, &sh.began, &sh.ended, &sh.held); err != nil {
			return err
		}
		e := b.episodes[id]
		if e == nil || !known[target] {
			return nil
		}
		since := e.alert.Since
		if sh.began {
			since = e.ended
		}
		// The shop clock may have been set meanwhile: no wait is longer than what is kept.
		sh.due = time.Now().Add(-min(max(0, now.Sub(since)), oldestEnded))
		e.open[target] = &sh
		return nil
	})
}

func (s *store) loadSending(ctx context.Context, b *book, known map[string]bool) error {
	var gone []string
	err := s.each(ctx, "SELECT target, parcel FROM sending ORDER BY target, key", func(scan func(...any) error) error {
		var target, text string
		if err := scan(&target, &text); err != nil {
			return err
		}
		if !known[target] {
			gone = append(gone, target)
			return nil
		}
		p := &parcel{}
		if err := json.Unmarshal([]byte(text), p); err != nil {
			return err
		}
		b.unsure[target] = append(b.unsure[target], p)
		return nil
	})
	for _, target := range gone {
		if _, failed := s.db.ExecContext(ctx, "DELETE FROM sending WHERE target = ?", target); failed != nil {
			return failed
		}
	}
	return err
}

func (s *store) each(ctx context.Context, query string, row func(scan func(...any) error) error) error {
	rows, err := s.db.QueryContext(ctx, query)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := row(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}
