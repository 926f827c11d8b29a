package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"syscall"
)

// windowProgram is the program that shows the window: it stands beside this one.
func windowProgram() (string, error) {
	self, err := os.Executable()
	if err != nil {
		return "", err
	}
	path := filepath.Join(filepath.Dir(self), "heeltoe-window")
	if runtime.GOOS == "windows" {
		path += ".exe"
	}
	_, err = os.Stat(path)
	return path, err
}

// inWindow plays in the window, where there is a display. Where it cannot, it
// says why not, and the run is played as text.
func (c *liveCmd) inWindow(a *app) (whyNot string, err error) {
	switch {
	case c.Text, c.Fast:
		return "so it was asked for", nil
	case runtime.GOOS == "linux" && os.Getenv("DISPLAY") == "":
		return "there is no display (DISPLAY is not set)", nil
	}
	program, err := windowProgram()
	if err != nil {
		return fmt.Sprintf("the window's program is not there: %v", err), nil
	}
	cmd := exec.CommandContext(a.ctx, program, a.args[1:]...)
	cmd.Stdout, cmd.Stderr = a.stdout, a.stderr
	// On a signal it is told to save, and waited for.
	cmd.Cancel = func() error { return cmd.Process.Signal(syscall.SIGTERM) }
	err = cmd.Run()
	if cmd.ProcessState == nil || cmd.ProcessState.ExitCode() < 0 { // not begun, or killed
		return "", fmt.Errorf("the window's program: %w", err)
	}
	switch code := cmd.ProcessState.ExitCode(); code {
	case exitDone:
		return "", nil
	case exitLacking:
		return "the window cannot be opened", nil
	default:
		return "", exited(code)
	}
}
