package view

// Desk is what the player chooses between two runs: a sheet of fields, one of
// them in focus, beside the list of drills.
type Desk struct {
	Fields []Field
	Focus  int // index of the field in focus
	Drills []Entry
	Chosen int    // index into Drills, -1: none
	Search string // typed to narrow the list
	Fault  string // why the run cannot begin, or what is wrong with a field
	Live   *Live  // the drill that is chosen, drawn as a still
}

// Field is one thing to choose.
type Field struct {
	Name  string
	Value string
	Unit  string
	Help  string
	Fixed bool // shown, not changed
}

// Entry is a drill to choose.
type Entry struct {
	ID      string
	Name    string
	Layout  string
	Purpose string
}

// Teach is the page on which panels are given their keys, or their sensors.
type Teach struct {
	Live   *Live    // the layout and which panels are down
	Asked  int      // index of the panel that is asked for, -1: none
	Keys   []string // by panel; empty: none yet
	Say    string
	Limits string // what this input cannot do
}

// Help is a page of text: what each figure and mark means.
type Help struct {
	Topics []Topic
	Top    int // index of the first topic shown
}

// Topic is one thing explained.
type Topic struct{ Name, Text string }
