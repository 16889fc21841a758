package main

import (
	"context"
	"flag"

	"pourward/cmd/pourward/internal/config"
	"pourward/model/journal"
)

// defaultConfig is where the config file lies unless told otherwise.
const defaultConfig = "/etc/pourward/config.yml"

// journalFlags say which journal a command is to read.
type journalFlags struct{ config, file string }

func (f *journalFlags) register(fs *flag.FlagSet) {
	fs.StringVar(&f.config, "config", defaultConfig, "config `file` that says where the journal lies")
	fs.StringVar(&f.file, "journal", "", "`file` of the journal; that of the config file if left out")
}

// open opens the journal for reading alone, also while a daemon keeps it.
func (f *journalFlags) open(ctx context.Context) (*journal.Journal, error) {
	file := f.file
	if file == "" {
		c, err := config.Load(f.config)
		if err != nil {
			return nil, err
		}
		file = c.Journal.File
	}
	return journal.Open(ctx, file, journal.Options{ReadOnly: true})
}
