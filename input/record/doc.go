// Package record reads and writes what is kept of a pad: run logs, which hold
// edges and are the source of truth for a run, and recordings of raw reports.
// Both are JSON Lines, read strictly and written so that reading and writing
// again gives the same bytes.
package record
