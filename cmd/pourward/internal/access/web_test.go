package access

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"encoding/csv"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// rowsOf reads a CSV file with a header row, each row as column -> cell.
func rowsOf(t *testing.T, file string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", file))
	require.NoError(t, err)
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, record := range records[1:] {
		row := map[string]string{}
		for i, cell := range record {
			row[records[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return rows
}

// certificate writes a certificate for this machine, and its key.
func certificate(t *testing.T, dir string) (cert, key string) {
	t.Helper()
	k, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	about := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, about, about, &k.PublicKey, k)
	require.NoError(t, err)
	secret, err := x509.MarshalPKCS8PrivateKey(k)
	require.NoError(t, err)
	cert, key = filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	require.NoError(t, os.WriteFile(cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o644))
	require.NoError(t, os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), 0o600))
	return cert, key
}

func webOf(t *testing.T, text string) (*Web, error) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "web.yml")
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	return LoadWeb(file)
}

// hashOf is the bcrypt hash of a user's password, "USER's password". They are made beforehand, as making one
// takes long where races are looked for.
func hashOf(user string) string {
	return map[string]string{
		"anna": "$2a$10$VaPTa2r.dWfx9ym2TKCzyu5KgM8NeE1qBSxWzfdeYqkPtK2.7IjCO",
		"ben":  "$2a$10$eu.SGtwksEVUfwET2m3dS.mAVaGAoerEaz/YUjdKw9BwU00VjFnRa",
	}[user]
}

func TestWebFilesThatAreRefused(t *testing.T) {
	cert, key := certificate(t, t.TempDir())
	for _, row := range rowsOf(t, "web.csv") {
		text := strings.NewReplacer("{cert}", cert, "{key}", key).Replace(row["file"])
		_, err := webOf(t, text)
		require.ErrorContains(t, err, row["problem"], row["case"])
		require.ErrorContains(t, err, "web.yml", row["case"])
	}
	_, err := LoadWeb(filepath.Join(t.TempDir(), "absent.yml"))
	require.ErrorContains(t, err, "absent.yml")
}

func TestWebFile(t *testing.T) {
	dir := t.TempDir()
	certificate(t, dir)
	file := filepath.Join(dir, "web.yml")
	require.NoError(t, os.WriteFile(file, []byte(`
tls_server_config: {cert_file: cert.pem, key_file: key.pem}
http_server_config: {http2: false, headers: {Strict-Transport-Security: max-age=31536000}}
rate_limit: {interval: 1s, burst: 3}
basic_auth_users: {ben: "`+hashOf("ben")+`", anna: "`+hashOf("anna")+`"}
`), 0o600))
	w, err := LoadWeb(file)
	require.NoError(t, err)
	require.Equal(t, []string{"anna", "ben"}, w.Users())
	d, err := New(Options{Web: w, Roles: map[string]Role{"anna": Mark}})
	require.NoError(t, err)
	require.NotNil(t, d.TLS())
	require.False(t, d.HTTP2())
	require.Equal(t, 3, w.limit.Burst())
}

func TestDoorsThatFitNobody(t *testing.T) {
	w, err := webOf(t, "{}")
	require.NoError(t, err)
	_, err = New(Options{Web: w})
	require.ErrorContains(t, err, "names no users; write basic_auth_users")
	w, err = webOf(t, `basic_auth_users: {anna: "`+hashOf("anna")+`"}`)
	require.NoError(t, err)
	_, err = New(Options{Web: w, Roles: map[string]Role{"ana": Mark}})
	require.EqualError(t, err, `access.roles: the web configuration has no user "ana", only anna`)
}
