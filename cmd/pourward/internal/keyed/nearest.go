package keyed

import "strings"

// Suggestion points from a name nobody knows to the one that was meant, or to all there are.
func Suggestion(name string, known []string) string {
	if near := Nearest(name, known); near != "" {
		return "did you mean " + near + "?"
	}
	return "known here: " + strings.Join(known, ", ")
}

// Nearest returns the candidate that text was most likely meant to be, empty when none is close: at
// most one slip in three letters.
func Nearest(text string, candidates []string) string {
	best, bestSlips := "", len(text)/3+1
	for _, c := range candidates {
		if n := slips([]rune(text), []rune(c)); n < bestSlips || n == 1 && best == "" {
			best, bestSlips = c, n
		}
	}
	return best
}

// slips counts the letters to add, drop, change or swap with a neighbor to come from a to b: the
// restricted edit distance of F. J. Damerau, Communications of the ACM 7 (1964) 171.
func slips(a, b []rune) int {
	before, row := make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range a {
		next := make([]int, len(b)+1)
		next[0] = i + 1
		for j := range b {
			next[j+1] = min(row[j+1]+1, next[j]+1, row[j]+different(a[i], b[j]))
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				next[j+1] = min(next[j+1], before[j-1]+1)
			}
		}
		before, row = row, next
	}
	return row[len(b)]
}

func different(a, b rune) int {
	if a == b {
		return 0
	}
	return 1
}
