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
	"syscall"

	"github.com/alecthomas/kong"

	"heeltoe/footing/pad"
	"heeltoe/input/usb"
)

// Exit codes, as the contract has them.
const (
	exitDone    = 0
	exitError   = 1 // an error of the program or the system
	exitInput   = 2 // wrong usage or bad input
	exitLacking = 3 // something the machine lacks
)

// lacking is an error for what the machine lacks: no pad, no display, no sound.
// It says what to do about it.
type lacking struct{ msg string }

func (e *lacking) Error() string { return e.msg }

// usage is an error of the command line.
type usage struct{ msg string }

func (e *usage) Error() string { return e.msg }

func usagef(format string, args ...any) error { return &usage{fmt.Sprintf(format, args...)} }

// app is what every command gets.
type app struct {
	ctx    context.Context // ends on the first SIGINT or SIGTERM
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer
}

// cli is the command line. Each command is a struct with a Run(*app) method in
// a file of its own.
type cli struct {
	Live   liveCmd   `cmd:"" help:"Play a drill."`
	Pads   padsCmd   `cmd:"" help:"Find, teach and record pads."`
	Drills drillsCmd `cmd:"" help:"List, show and capture drills."`
	Review reviewCmd `cmd:"" help:"Judge a run log again and sum it up."`
	Synth  synthCmd  `cmd:"" help:"Write the run log of a synthetic player."`
}

func main() { os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }

// run is main without the process: it gives the exit code.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	a := &app{ctx: ctx, stdin: stdin, stdout: stdout, stderr: stderr}
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
	return a.report(k.Run(a))
}

// report prints err to standard error and gives the exit code that it stands for.
func (a *app) report(err error) int {
	var l *lacking
	var ul *usb.Lacking
	var u *usage
	switch {
	case err == nil:
		return exitDone
	case pad.IsBadInput(err):
		fmt.Fprintln(a.stderr, err)
		return exitInput
	case errors.As(err, &u):
		fmt.Fprintln(a.stderr, "heeltoe:", err)
		return exitInput
	case errors.As(err, &l), errors.As(err, &ul):
		fmt.Fprintln(a.stderr, "heeltoe:", err)
		return exitLacking
	}
	fmt.Fprintln(a.stderr, "heeltoe:", err)
	return exitError
}
