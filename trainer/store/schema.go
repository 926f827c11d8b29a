package store

// migrations bring the index from one version of its schema to the next; the
// version is SQLite's user_version. Since the logs are the truth, a step that
// changes the meaning of a figure empties the tables, and Sync fills them anew.
//
// logs has a line for each file in the folder of run logs, as it was when it was
// read: its size and time, the run it holds, or why it cannot be read. Two files
// may hold one run. runs has a line a run; see Run. readings has a line for each run whose
// feet were read; see Index.Keep. It is all that takes long to compute again.
var migrations = []string{
	`CREATE TABLE runs (
		id TEXT PRIMARY KEY,
		started_us INTEGER,
		drill TEXT NOT NULL, mirror TEXT NOT NULL, name TEXT NOT NULL, layout TEXT NOT NULL,
		bpm REAL NOT NULL, per_beat INTEGER NOT NULL, reps INTEGER NOT NULL, planned INTEGER NOT NULL,
		asked TEXT NOT NULL, footing TEXT NOT NULL, continues INTEGER NOT NULL,
		technique TEXT NOT NULL, technique_p REAL,
		player TEXT NOT NULL, pad TEXT NOT NULL, bar TEXT NOT NULL, shoe_mm INTEGER NOT NULL,
		windows_us TEXT NOT NULL, shift_us INTEGER NOT NULL, debounce_us INTEGER NOT NULL,
		notes INTEGER NOT NULL, inner INTEGER NOT NULL, middle INTEGER NOT NULL, outer INTEGER NOT NULL,
		absent INTEGER NOT NULL, stray INTEGER NOT NULL,
		offset_mean_us REAL, offset_sd_us REAL, offset_median_us REAL, offset_mad_us REAL,
		steadiness REAL, best_shift_us REAL,
		presses INTEGER NOT NULL, merged INTEGER NOT NULL, gaps INTEGER NOT NULL, lost INTEGER NOT NULL,
		ended_us INTEGER
	) STRICT, WITHOUT ROWID;
	CREATE INDEX runs_drill ON runs (drill);
	CREATE INDEX runs_mirror ON runs (mirror);
	CREATE TABLE logs (
		path TEXT PRIMARY KEY,
		size INTEGER NOT NULL, mtime_ns INTEGER NOT NULL,
		run TEXT NOT NULL, fault TEXT NOT NULL
	) STRICT, WITHOUT ROWID;
	CREATE INDEX logs_run ON logs (run, path);`,

	// What the feet did is kept whole, apart from the run, with the reader that took it; a
	// run says of which block of a plan it is and how many landings a second it asks for.
	`DELETE FROM runs; DELETE FROM logs;
	ALTER TABLE runs DROP COLUMN technique;
	ALTER TABLE runs DROP COLUMN technique_p;
	ALTER TABLE runs ADD COLUMN moments INTEGER NOT NULL DEFAULT 0;
	ALTER TABLE runs ADD COLUMN rep_slots INTEGER NOT NULL DEFAULT 0;
	ALTER TABLE runs ADD COLUMN plan TEXT NOT NULL DEFAULT '';
	ALTER TABLE runs ADD COLUMN block INTEGER NOT NULL DEFAULT 0;
	ALTER TABLE runs ADD COLUMN way INTEGER NOT NULL DEFAULT 0;
	ALTER TABLE runs ADD COLUMN warm_up INTEGER NOT NULL DEFAULT 0;
	CREATE TABLE readings (
		run TEXT PRIMARY KEY,
		reader INTEGER NOT NULL,
		technique TEXT NOT NULL, technique_p REAL, outcomes TEXT NOT NULL,
		whole BLOB NOT NULL
	) STRICT;`,

	// How far presses scatter about their own note's median, in the run and rep by rep.
	`DELETE FROM runs; DELETE FROM logs;
	ALTER TABLE runs ADD COLUMN scatter_us REAL;
	ALTER TABLE runs ADD COLUMN rep_scatter_us TEXT NOT NULL DEFAULT '';`,

	// How often the pad reports.
	`DELETE FROM runs; DELETE FROM logs;
	ALTER TABLE runs ADD COLUMN interval_us INTEGER NOT NULL DEFAULT 0;`,
}
