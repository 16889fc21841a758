package config

import "pourward/cmd/pourward/internal/keyed"

// Problem is one thing wrong in the file, and what to write instead.
type Problem = keyed.Problem

// Problems are all that [Parse] found, in the order of the file.
type Problems = keyed.Problems
