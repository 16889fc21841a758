package deliver

import (
	"encoding/base64"
	"fmt"
	"strings"
)

// decodeKey reads a signing key. Nothing of it stands in the error.
func decodeKey(text string) ([]byte, error) {
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(text, "whsec_"))
	if err != nil || len(key) < shortestKey || len(key) > longestKey {
		return nil, fmt.Errorf("the signing key is not whsec_ and %d to %d bytes in base64; make one with: echo whsec_$(openssl rand -base64 32)", shortestKey, longestKey)
	}
	return key, nil
}
