package config

import "time"

const patchesExample = `{vouch_for: "180 d"}`

// readPatches gives how long a test patch that passed vouches; 0 where the file does not say. The shop tells of
// a patch that passed for a year, so it cannot vouch for longer.
func readPatches(g *group) time.Duration {
	const day = 24 * time.Hour
	if g == nil {
		return 0
	}
	defer g.Done()
	return required(g, "vouch_for", duration("180 d", day, 365*day, "1 d to 365 d"))
}
