package sensors

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

// LinuxBoard is the computer the program runs on. Root is the root of the file system; empty for "/".
type LinuxBoard struct{ Root string }

func (b LinuxBoard) path(p string) string { return filepath.Join("/", b.Root, p) }

// BootID reads the kernel's name for this boot.
func (b LinuxBoard) BootID() (string, error) {
	id, err := os.ReadFile(b.path("proc/sys/kernel/random/boot_id"))
	if err != nil {
		return "", fmt.Errorf("ask the kernel which boot this is: %w", err)
	}
	return strings.TrimSpace(string(id)), nil
}

// SinceBoot reads CLOCK_BOOTTIME.
func (LinuxBoard) SinceBoot() (time.Duration, error) {
	var t unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &t); err != nil {
		return 0, fmt.Errorf("read the time since boot: %w", err)
	}
	return time.Duration(t.Nano()), nil
}

// Wall is the system's time of day.
func (LinuxBoard) Wall() time.Time { return time.Now() }

// Trusted reports whether a time server has set the time of day, or a battery clock did when the board
// started.
func (b LinuxBoard) Trusted() bool {
	var t unix.Timex
	if state, err := unix.Adjtimex(&t); err == nil && state != unix.TIME_ERROR && t.Status&unix.STA_UNSYNC == 0 {
		return true
	}
	if _, err := os.Stat(b.path("run/systemd/timesync/synchronized")); err == nil {
		return true
	}
	return b.batteryClock()
}

// batteryClock reports whether the kernel took its time from a hardware clock at boot.
func (b LinuxBoard) batteryClock() bool {
	clocks, err := filepath.Glob(b.path("sys/class/rtc/rtc*/hctosys"))
	if err != nil {
		return false
	}
	for _, c := range clocks {
		if set, err := os.ReadFile(c); err == nil && strings.TrimSpace(string(set)) == "1" {
			return true
		}
	}
	return false
}
