package store

import (
	"context"
	"strings"

	"heeltoe/trainer"
)

// Filter says which runs are asked for; what is empty does not narrow.
type Filter struct {
	Drill  string // key of the drill or of its mirror image
	Player string
	ID     string // the beginning of a run's id
	Unread bool   // only runs whose feet this version of the reader has not read
}

// Runs gives the runs asked for in the order in which they were begun; those
// that are not dated come first.
func (x *Index) Runs(ctx context.Context, f Filter) ([]Run, error) {
	var names, where []string
	var args []any
	for _, c := range new(Run).columns() {
		names = append(names, c.name)
	}
	if f.Drill != "" {
		where, args = append(where, "(drill = ? OR mirror = ?)"), append(args, f.Drill, f.Drill)
	}
	if f.Player != "" {
		where, args = append(where, "player = ?"), append(args, f.Player)
	}
	if f.Unread {
		where, args = append(where, "reader IS NOT ?"), append(args, trainer.ReaderVersion)
	}
	if f.ID != "" {
		where, args = append(where, "substr(id, 1, ?) = ?"), append(args, len(f.ID), f.ID)
	}
	q := "SELECT " + strings.Join(names, ",") + `, coalesce(technique, ''), technique_p, coalesce(outcomes, ''), coalesce(reader, 0),
		(SELECT min(path) FROM logs WHERE logs.run = id) FROM runs LEFT JOIN readings ON readings.run = id`
	if len(where) > 0 {
		q += " WHERE " + strings.Join(where, " AND ")
	}
	rows, err := x.db.QueryContext(ctx, q+" ORDER BY started_us, id", args...)
	if err != nil {
		return nil, x.fault(err)
	}
	defer rows.Close()
	runs := []Run{}
	var r Run
	var at []any
	for _, c := range r.columns() {
		at = append(at, c.at)
	}
	var reader int
	at = append(at, &r.Technique, (*number)(&r.P), &r.Outcomes, &reader, &r.Log)
	for rows.Next() {
		if err := rows.Scan(at...); err != nil {
			return nil, x.fault(err)
		}
		r.Stale = reader != 0 && reader != trainer.ReaderVersion
		runs = append(runs, r)
	}
	return runs, x.fault(rows.Err())
}

// Fault is a log that cannot be read, by its name within the folder of run
// logs, and why.
type Fault struct{ Log, Why string }

// Faults gives the logs that cannot be read, in order of name.
func (x *Index) Faults(ctx context.Context) ([]Fault, error) {
	rows, err := x.db.QueryContext(ctx, "SELECT path, fault FROM logs WHERE fault <> '' ORDER BY path")
	if err != nil {
		return nil, x.fault(err)
	}
	defer rows.Close()
	var out []Fault
	for rows.Next() {
		var f Fault
		if err := rows.Scan(&f.Log, &f.Why); err != nil {
			return nil, x.fault(err)
		}
		out = append(out, f)
	}
	return out, x.fault(rows.Err())
}

// Played is a drill of which there are runs.
type Played struct{ Key, Name string }

// Drills gives the drills of which there are runs, each under every name that
// it had, in order of name.
func (x *Index) Drills(ctx context.Context) ([]Played, error) {
	rows, err := x.db.QueryContext(ctx, "SELECT DISTINCT drill, name FROM runs ORDER BY name, drill")
	if err != nil {
		return nil, x.fault(err)
	}
	defer rows.Close()
	var out []Played
	for rows.Next() {
		var p Played
		if err := rows.Scan(&p.Key, &p.Name); err != nil {
			return nil, x.fault(err)
		}
		out = append(out, p)
	}
	return out, x.fault(rows.Err())
}
