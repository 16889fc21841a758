package kernel

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Listed is a chip that can be opened.
type Listed struct {
	Name     string      // for [Hwmon] or [IIO], with its device where the driver's name is not enough
	Humidity IIOHumidity // for [IIO]: the unit in which it gives processed humidity
}

// ListW1 returns the names of the thermometers in root, for [W1]; root is [W1Root] when empty.
func ListW1(root string) ([]string, error) {
	if root == "" {
		root = W1Root
	}
	entries, err := os.ReadDir(root)
	if err != nil {
		return nil, unread(err, root, "the kernel has no 1-wire bus")
	}
	var names []string
	for _, e := range entries {
		if _, err := w1Decoder(e.Name()); err == nil && strings.Contains(e.Name(), "-") {
			names = append(names, e.Name())
		}
	}
	return names, nil
}

// ListHwmon returns the chips in root that measure a temperature; root is [HwmonRoot] when empty.
func ListHwmon(root string) ([]Listed, error) {
	if root == "" {
		root = HwmonRoot
	}
	return list(root, "temp1_input")
}

// ListIIO returns the chips in root that measure a temperature; root is [IIORoot] when empty.
func ListIIO(root string) ([]Listed, error) {
	if root == "" {
		root = IIORoot
	}
	return list(root, "in_temp_input", "in_temp_raw")
}

// list returns the chips of a class that have one of the files.
func list(root string, files ...string) ([]Listed, error) {
	all, err := chipsIn(root)
	if err != nil {
		return nil, err
	}
	named := map[string]int{}
	for _, c := range all {
		named[c.name]++
	}
	var out []Listed
	for _, c := range all {
		if !slices.ContainsFunc(files, func(f string) bool { return exists(filepath.Join(c.folder, f)) }) {
			continue
		}
		l := Listed{Name: c.name}
		if named[c.name] > 1 {
			l.Name = c.String()
		}
		if _, text, err := readNumber(filepath.Join(c.folder, "in_humidityrelative_input")); err == nil && strings.Contains(text, ".") {
			l.Humidity = WholePercent
		}
		out = append(out, l)
	}
	return out, nil
}
