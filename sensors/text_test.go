package sensors

import (
	"encoding/json"
	"fmt"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestTextThatIsNotUTF8(t *testing.T) {
	require.EqualError(t, CheckText("caf\xe9 au lait"),
		`"caf\xe9 au lait" is not UTF-8 (byte 4 of the text, hexadecimal e9); write it again, and set what it comes from to UTF-8`)
	require.NoError(t, CheckText("café, \ufffd and \x00"), "a character that stands for another is one, too")
	rapid.Check(t, func(t *rapid.T) {
		text := string(rapid.SliceOfN(rapid.SampledFrom([]byte("a\n\xc3\xa9\xe2\x82\xac\xed\xa0\xff\xf0\x9f\x98\x80")), 0, 12).Draw(t, "text"))
		n := Legible(text)
		require.Equal(t, utf8.ValidString(text), n == len(text))
		require.True(t, utf8.ValidString(text[:n]))
		require.Equal(t, utf8.ValidString(text), CheckText(text) == nil)
	})
}

// The escapes are those of RFC 8259, section 7; a half of a character alone is what section 8.2 calls
// unpredictable.
func TestJSONOfHalfCharacters(t *testing.T) {
	for text, says := range map[string]string{
		`"a \ud83d\ude00 b"`:     "",
		`"\uD83D\uDE00"`:         "",
		`"\\ud83d is no escape"`: "",
		`"\ufffd \u00e9 \ud7ff"`: "",
		`"\ud83d"`:               `\ud83d is half of a character; write the whole one, or the character itself as UTF-8`,
		`"\\\ud83d"`:             `\ud83d is half`,
		`"\ude00\ud83d"`:         `\ude00 is half`,
		`"\ud83d\ud83d\ude00"`:   `\ud83d is half`,
		`"\ud83d \ude00"`:        `\ud83d is half`,
		"\"caf\xe9\"":            "is not UTF-8",
	} {
		var told string
		require.NoError(t, json.Unmarshal([]byte(text), &told), "a decoder takes all of them")
		if err := CheckJSON([]byte(text)); says == "" {
			require.NoError(t, err, text)
		} else {
			require.ErrorContains(t, err, says, text)
		}
	}
}

// What passes is decoded to what is meant: written again and read again it is the same, and no character
// has taken the place of another.
func TestJSONThatPassesIsExact(t *testing.T) {
	pieces := []string{`\\`, `\"`, `\ud83d`, `\ude00`, `\uD83D\uDE00`, "u", "d83d", "é", "\xe9", `\u0041`}
	rapid.Check(t, func(t *rapid.T) {
		text := `"` + fmt.Sprint(rapid.SliceOfN(rapid.SampledFrom(pieces), 0, 8).Draw(t, "pieces")) + `"`
		var told string
		require.NoError(t, json.Unmarshal([]byte(text), &told))
		replaced := false
		for _, r := range told {
			replaced = replaced || r == utf8.RuneError // none of the pieces is that character itself
		}
		require.Equal(t, replaced, CheckJSON([]byte(text)) != nil, text)
	})
}
