package journal

import (
	"context"
	"database/sql"
	"embed"
	"fmt"
	"io/fs"
	"path"
	"strconv"
	"strings"
)

// applicationID is "Pour" in ASCII. The first migration writes it into the file.
const applicationID = 0x506f7572

//go:embed schema/*.sql
var schemaFiles embed.FS

func embedded() fs.FS { return schemaFiles }

// migration brings the schema from version-1 to version.
type migration struct {
	version int
	name    string
	sql     string
}

// migrations reads schema/NNNN_what_changes.sql in order. The numbers must be 1, 2, 3 and so on: the
// version in a file is the number of migrations it has seen.
func migrations(files fs.FS) ([]migration, error) {
	names, err := fs.Glob(files, "schema/*.sql") // sorted by name
	if err != nil {
		return nil, err
	}
	steps := make([]migration, 0, len(names))
	for i, name := range names {
		number, what, _ := strings.Cut(strings.TrimSuffix(path.Base(name), ".sql"), "_")
		version, err := strconv.Atoi(number)
		if err != nil || version != i+1 {
			return nil, fmt.Errorf("read migration %s: want number %04d", name, i+1)
		}
		text, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		steps = append(steps, migration{version, strings.ReplaceAll(what, "_", " "), string(text)})
	}
	return steps, nil
}

// apply runs the migration and notes its version in one transaction.
func (m migration) apply(ctx context.Context, conn *sql.Conn) error {
	tx, err := conn.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // does nothing after a commit
	if _, err := tx.ExecContext(ctx, m.sql); err != nil {
		return fmt.Errorf("change %d (%s): %w", m.version, m.name, err)
	}
	if _, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", m.version)); err != nil {
		return err
	}
	return tx.Commit()
}
