package checkup

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"

	"pourward/cmd/pourward/internal/config"
	"pourward/sensors"
	"pourward/sensors/chips"
	"pourward/sensors/kernel"
)

// Probes looks at what the probes of this board need: the device file of each I²C bus, a kernel driver that holds
// a chip, and each thermometer of the kernel, which is read once. Chips on I²C buses are not asked: the daemon may
// be asking them now.
func Probes(ctx context.Context, probes []config.Probe) (out []Finding) {
	seen := map[string]bool{}
	for _, p := range probes {
		switch {
		case p.Chip != nil:
			out = append(out, onBus(p.Name, p.Chip.I2C, seen)...)
		case p.Bridged != nil:
			out = append(out, onBus(p.Name, p.Bridged.Bridge, seen)...)
		case p.W1 != nil:
			out = append(out, kept(ctx, p, kernel.W1(p.W1.Root, p.W1.ID)))
		case p.Hwmon != nil:
			out = append(out, kept(ctx, p, kernel.Hwmon(p.Hwmon.Root, p.Hwmon.Name)))
		case p.IIO != nil:
			out = append(out, kept(ctx, p, kernel.IIO(p.IIO.Root, p.IIO.Name, p.IIO.Humidity)))
		case p.Recorded != nil:
			out = append(out, recording(p))
		}
	}
	return out
}

// onBus looks at a bus the first time it comes, and at the place of the chip every time.
func onBus(probe string, at config.I2C, seen map[string]bool) (out []Finding) {
	devices := filepath.Join(at.Sys, "bus", "i2c", "devices")
	if !seen[at.Bus] {
		seen[at.Bus] = true
		board, err := chips.OpenBoard(at.Bus, devices)
		if err == nil {
			err = board.Close()
		}
		out = append(out, busFinding(at.Bus, err))
	}
	var number int
	if _, err := fmt.Sscanf(filepath.Base(at.Bus), "i2c-%d", &number); err != nil {
		return out // the bus was found broken
	}
	if driver := chips.DriverOf(devices, number, at.Address); driver != "" {
		out = append(out, broken("probe", "read it as a probe of the kind hwmon or iio, or unbind the driver: pourward probes shows its lines",
			"%s: the kernel's driver %s holds the chip at %#x on %s", probe, driver, at.Address, at.Bus))
	}
	return out
}

// busFinding is what opening a bus means.
func busFinding(path string, err error) Finding {
	switch {
	case err == nil:
		return ok("bus", "%s can be used", path)
	case errors.Is(err, fs.ErrNotExist):
		return broken("bus", "enable I²C in the board's settings, then: sudo modprobe i2c-dev", "%s is not there", path)
	case errors.Is(err, fs.ErrPermission):
		return broken("bus", joinGroup(path), "%s may not be opened by this user", path)
	}
	return broken("bus", "see that it is the device file of an I²C bus: ls -l /dev/i2c-*", "%s cannot be used: %v", path, err)
}

// joinGroup says how the user comes to use a device file.
func joinGroup(path string) string {
	info, err := os.Stat(path)
	if err != nil {
		return "see who may open it: ls -l " + path
	}
	owner, known := info.Sys().(*syscall.Stat_t)
	if !known || owner.Gid == 0 || info.Mode().Perm()&0o060 != 0o060 {
		return "let a group use it, e.g.: sudo chgrp i2c " + path + " && sudo chmod g+rw " + path + "; a udev rule makes it last"
	}
	group := strconv.FormatUint(uint64(owner.Gid), 10)
	if g, err := user.LookupGroupId(group); err == nil {
		group = g.Name
	}
	name := "USER"
	if u, err := user.Current(); err == nil {
		name = u.Username
	}
	return fmt.Sprintf("sudo usermod -aG %s %s, then log in anew, or start the daemon anew", group, name)
}

// kept looks at a probe that the kernel keeps, and reads it once.
func kept(ctx context.Context, p config.Probe, open sensors.Opener) Finding {
	probe, err := open(ctx)
	if err != nil {
		return broken("probe", "pourward probes lists what there is", "%s: %v", p.Name, err)
	}
	s, err := probe.Sense(ctx)
	if err := errors.Join(err, probe.Close()); err != nil {
		return broken("probe", "check its wiring, and that nothing else pulls at its line", "%s: %v", p.Name, err)
	}
	if math.IsNaN(s.TempC) {
		return look("probe", "look again in a minute", "%s is there, and has measured nothing yet", p.Name)
	}
	return ok("probe", "%s measures %.1f °C", p.Name, s.TempC)
}

// recording looks at the file of a probe that is played back.
func recording(p config.Probe) Finding {
	f, err := os.Open(p.Recorded.File)
	if err != nil {
		return broken("probe", "name a file that the daemon's user can read", "%s: %v", p.Name, err)
	}
	if err := f.Close(); err != nil {
		return broken("probe", "name another file", "%s: %v", p.Name, err)
	}
	return ok("probe", "%s is played back from %s", p.Name, p.Recorded.File)
}

// Clock looks at whether the time of day can be trusted, as the daemon judges it.
func Clock(trusted bool) Finding {
	if trusted {
		return ok("clock", "the time of day is vouched for, by a time server or a battery clock")
	}
	return look("clock", "let a time server set it (timedatectl set-ntp true), or fit a battery clock",
		"nobody vouches for the time of day; what is recorded meanwhile is dated anew once somebody does")
}
