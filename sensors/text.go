package sensors

import (
	"bytes"
	"fmt"
	"regexp"
	"unicode/utf8"
)

// CheckText refuses text that is not UTF-8, of which nobody could say what was meant: a name that is told
// otherwise than it was written, or a note that comes out of an export changed, would be lost in silence.
// Whatever takes text from outside asks it, and says which text it is in front of the error.
func CheckText(text string) error {
	good := Legible(text)
	if good == len(text) {
		return nil
	}
	const around = 20
	from, to := max(0, good-around), min(len(text), good+around)
	return fmt.Errorf("%q is not UTF-8 (byte %d of the text, hexadecimal %02x); write it again, and set what it comes from to UTF-8",
		text[from:to], good+1, text[good])
}

// Legible is how many bytes of text can be read as UTF-8 before the first that cannot; all of them for text
// that is sound.
func Legible(text string) (n int) {
	for n < len(text) {
		r, size := utf8.DecodeRuneInString(text[n:])
		if r == utf8.RuneError && size == 1 {
			return n
		}
		n += size
	}
	return n
}

// CheckJSON refuses JSON of which some text is not UTF-8, or is half of a character, by the rule of
// [CheckText]: a decoder would put another character in its place.
func CheckJSON(text []byte) error {
	if err := CheckText(string(text)); err != nil {
		return err
	}
	if !bytes.Contains(bytes.ToLower(text), []byte(`\ud`)) {
		return nil
	}
	// A backslash that stands for itself, and whole characters of two halves, are in order.
	sound := regexp.MustCompile(`\\\\|\\u[dD][89abAB][[:xdigit:]]{2}\\u[dD][c-fC-F][[:xdigit:]]{2}`)
	half := regexp.MustCompile(`\\u[dD][89a-fA-F][[:xdigit:]]{2}`)
	if at := half.Find(sound.ReplaceAll(text, []byte(" "))); at != nil {
		return fmt.Errorf("%s is half of a character; write the whole one, or the character itself as UTF-8", at)
	}
	return nil
}
