// Command heeltoe trains footwork on five-panel floor pads: it judges what a
// pad reports against a looped drill, shows it, keeps it and reviews it.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime"
	"strings"
	"syscall"

	"github.com/alecthomas/kong"

	"heeltoe/footing/pad"
	"heeltoe/input/evdev"
	"heeltoe/input/usb"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/turns"
)

// Exit codes, as the contract has them.
const (
	exitDone    = 0
	exitError   = 1 // an error of the program or the system
	exitInput   = 2 // wrong usage or bad input
	exitLacking = 3 // something the machine lacks
)

// usagef makes an error of the command line.
func usagef(format string, args ...any) error { return practice.Wrongf(format, args...) }

// exited is an error of which everything has been said: it is only an exit code.
type exited int

func (e exited) Error() string { return fmt.Sprintf("exit %d", int(e)) }

// app is what every command gets.
type app struct {
	args   []string        // the command and what follows it
	ctx    context.Context // ends on the first SIGINT or SIGTERM
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer
}

// say tells the player something on standard output, warn on standard error.
func (a *app) say(format string, args ...any) { fmt.Fprintf(a.stdout, format+"\n", args...) }
func (a *app) warn(format string, args ...any) {
	fmt.Fprintf(a.stderr, "heeltoe: "+format+"\n", args...)
}

// cli is the command line. Each command is a struct with a Run(*app) method in
// a file of its own.
type cli struct {
	Live     liveCmd     `cmd:"" help:"Play a drill."`
	Session  sessionCmd  `cmd:"" help:"Lead through an evening: warm-up, drills with rests, an easy end."`
	Pads     padsCmd     `cmd:"" help:"Find, teach and record pads."`
	Drills   drillsCmd   `cmd:"" help:"List, show and capture drills."`
	Plan     planCmd     `cmd:"" help:"List the ways two feet can play a drill, and when each works."`
	Review   reviewCmd   `cmd:"" help:"Judge a run log again and sum it up."`
	Label    labelCmd    `cmd:"" help:"Say what an observer saw the feet do in a run."`
	Limits   limitsCmd   `cmd:"" help:"From runs at several tempi: where each way to play breaks, and how long a tempo lasts."`
	Progress progressCmd `cmd:"" help:"Compare runs of a drill over weeks."`
	Plateau  plateauCmd  `cmd:"" help:"Tell whether a drill is on a plateau, and what can be tried."`
	Sides    sidesCmd    `cmd:"" help:"Show a drill and its mirror image side by side: is one side weaker?"`
	Lesson   lessonCmd   `cmd:"" help:"Make a lesson of a pupil's runs, and see a week later what became of it."`
	Report   reportCmd   `cmd:"" help:"Write a page of a run, of two, or of a drill over weeks."`
	History  historyCmd  `cmd:"" help:"List, import and index the runs that are kept."`
	Export   exportCmd   `cmd:"" help:"Write the history as CSV or Parquet, for other tools."`
	Synth    synthCmd    `cmd:"" help:"Write the run log of a synthetic player."`
	Delay    delayCmd    `cmd:"" help:"Measure how far your presses are from the click you hear."`
}

func main() {
	// Two more than there are processors: where all are busy, with readings of a
	// run say, a reader whose report has come does not wait until one of them stops
	// to think, which takes 10 ms and more. The system gives it its turn at once.
	runtime.GOMAXPROCS(runtime.NumCPU() + 2)
	turns.Soon()
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}

// run is main without the process: it gives the exit code.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	a := &app{args: args, ctx: ctx, stdin: stdin, stdout: stdout, stderr: stderr}
	var c cli
	exited := -1
	parser, err := kong.New(&c, kong.Name("heeltoe"),
		kong.Description("Practice of footwork on five-panel floor pads."),
		kong.UsageOnError(), kong.Writers(stdout, stderr), kong.Exit(func(code int) { exited = code }))
	if err != nil {
		fmt.Fprintln(stderr, "heeltoe:", err)
		return exitError
	}
	k, err := parser.Parse(args)
	if exited >= 0 {
		return exited
	}
	if err != nil {
		fmt.Fprintf(stderr, "heeltoe: %v\nhint: heeltoe --help lists the commands\n", err)
		return exitInput
	}
	if command, _, _ := strings.Cut(k.Command(), " "); command == "live" || command == "session" {
		a.recover()
	}
	return a.report(k.Run(a))
}

// report prints err to standard error and gives the exit code that it stands for.
func (a *app) report(err error) int {
	var l *practice.Lacking
	var ul *usb.Lacking
	var el *evdev.Lacking
	var u *practice.Wrong
	var code exited
	switch {
	case err == nil:
		return exitDone
	case errors.As(err, &code):
		return int(code)
	case pad.IsBadInput(err):
		fmt.Fprintln(a.stderr, err)
		return exitInput
	case errors.As(err, &u):
		fmt.Fprintln(a.stderr, "heeltoe:", err)
		return exitInput
	case errors.As(err, &l), errors.As(err, &ul), errors.As(err, &el):
		fmt.Fprintln(a.stderr, "heeltoe:", err)
		return exitLacking
	}
	fmt.Fprintln(a.stderr, "heeltoe:", err)
	return exitError
}
