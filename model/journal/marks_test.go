package journal

import (
	"context"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
)

// filled sets everything in v that can be set, so that a field that is not kept shows.
func filled(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			v.Set(reflect.ValueOf(noon))
			return
		}
		for i := range v.NumField() {
			filled(v.Field(i))
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 2, 2))
		for i := range v.Len() {
			filled(v.Index(i))
		}
	case reflect.String:
		v.SetString("told")
	case reflect.Int, reflect.Int64:
		v.SetInt(1)
	case reflect.Float64:
		v.SetFloat(1.5)
	}
}

func TestEveryFieldOfAMarkIsKept(t *testing.T) {
	var m model.Mark
	filled(reflect.ValueOf(&m).Elem())
	require.False(t, hasZero(reflect.ValueOf(m)), "a field of a kind that the test does not fill")
	j := opened(t, newPath(t), Options{})
	first, err := j.AppendMark(context.Background(), markOf("to be corrected"))
	require.NoError(t, err)
	m.ID, m.Corrects = 0, first.ID
	kept, err := j.AppendMark(context.Background(), m)
	require.NoError(t, err)
	all, err := j.Marks(context.Background())
	require.NoError(t, err)
	m.ID = kept.ID
	require.Equal(t, m, all[1])
}

func hasZero(v reflect.Value) bool {
	if v.Kind() != reflect.Struct || v.Type() == reflect.TypeFor[time.Time]() {
		return v.IsZero()
	}
	for i := range v.NumField() {
		if hasZero(v.Field(i)) {
			return true
		}
	}
	return false
}
