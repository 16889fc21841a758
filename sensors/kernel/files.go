package kernel

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"

	"pourward/sensors"
)

// chip is one that a class of the kernel lists.
type chip struct{ folder, name, device string }

// String is the name that tells it from others whose driver gives them the same.
func (c chip) String() string { return c.name + "@" + c.device }

// chipsIn returns the chips that a class lists in its root.
func chipsIn(root string) ([]chip, error) {
	entries, err := os.ReadDir(root)
	if err != nil {
		return nil, unread(err, root, "the kernel has no such class")
	}
	var all []chip
	for _, e := range entries {
		folder := filepath.Join(root, e.Name())
		text, err := os.ReadFile(filepath.Join(folder, "name"))
		if err != nil {
			continue // not a chip
		}
		all = append(all, chip{folder, strings.TrimSpace(string(text)), deviceOf(folder)})
	}
	return all, nil
}

// chipFolder returns the folder in root that belongs to a chip, by the name its driver gives it and,
// where several have that name, by the device after an @: "sht4x@1-0044". The numbers of the folders
// themselves change from boot to boot.
func chipFolder(root, name string) (string, error) {
	all, err := chipsIn(root)
	if err != nil {
		return "", err
	}
	driver, device, _ := strings.Cut(name, "@")
	var found, names []string
	for _, c := range all {
		names = append(names, c.String())
		if c.name == driver && (device == "" || device == c.device) {
			found = append(found, c.folder)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return "", &sensors.FaultError{Fault: sensors.NoResponse,
			Doing: fmt.Sprintf("find chip %q in %s, which has %s; check the wiring and that its driver is loaded", name, root, strings.Join(names, ", "))}
	}
	return "", fmt.Errorf("find chip %q in %s: there are several; choose one of %s", name, root, strings.Join(names, ", "))
}

// deviceOf returns the bus address of a chip, such as 1-0044. Under iio the folder itself is a link
// into the device's.
func deviceOf(folder string) string {
	if target, err := os.Readlink(filepath.Join(folder, "device")); err == nil {
		return filepath.Base(target)
	}
	if target, err := os.Readlink(folder); err == nil {
		return filepath.Base(filepath.Dir(target))
	}
	return "?"
}

// readNumber returns the number in a file.
func readNumber(path string) (float64, string, error) {
	raw, err := os.ReadFile(path)
	if err != nil {
		return 0, "", unread(err, path, "check the wiring")
	}
	text := strings.TrimSpace(string(raw))
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || v-v != 0 { // neither infinite nor not a number
		return 0, text, found(sensors.Malformed, "read %s: %.40q is not a number", path, text)
	}
	return v, text, nil
}

// exists reports whether a file is there.
func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// found is an error whose evidence is in what was read.
func found(f sensors.Fault, format string, args ...any) error {
	return &sensors.FaultError{Fault: f, Doing: fmt.Sprintf(format, args...)}
}

// unread is the error for a file that cannot be read.
func unread(err error, path, advice string) error {
	f := sensors.BusError
	switch {
	case errors.Is(err, fs.ErrNotExist), errors.Is(err, syscall.ENODEV), errors.Is(err, syscall.ENXIO):
		f = sensors.NoResponse
	case errors.Is(err, syscall.ETIMEDOUT):
		f = sensors.Timeout
	case errors.Is(err, fs.ErrPermission):
		f = sensors.OtherFault
	}
	return &sensors.FaultError{Fault: f, Doing: fmt.Sprintf("read %s (%s)", path, advice), Cause: err}
}
