package bench_test

import (
	"bufio"
	"fmt"
	"io"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"time"
)

// program is a heeltoe that runs, as a player without any rights.
type program struct {
	cmd   *exec.Cmd
	in    io.WriteCloser
	lines chan string // of its standard output

	mu   sync.Mutex
	out  strings.Builder
	errs strings.Builder
}

// stderr is a program's standard error.
type stderr struct{ p *program }

func (e stderr) Write(b []byte) (int, error) {
	e.p.mu.Lock()
	defer e.p.mu.Unlock()
	return e.p.errs.Write(b)
}

// start starts heeltoe.
func start(args ...string) (*program, error) {
	p := &program{cmd: exec.Command("/bin/heeltoe", args...), lines: make(chan string, 4096)}
	p.cmd.Env = []string{"HOME=/home/player", "XDG_CONFIG_HOME=/home/player/config", "XDG_DATA_HOME=/home/player/data", "TMPDIR=/tmp"}
	p.cmd.Dir = "/home/player"
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: player, Gid: player}}
	p.cmd.Stderr = stderr{p}
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if p.in, err = p.cmd.StdinPipe(); err != nil {
		return nil, err
	}
	if err := p.cmd.Start(); err != nil {
		return nil, err
	}
	go func() {
		defer close(p.lines)
		for sc := bufio.NewScanner(out); sc.Scan(); {
			p.mu.Lock()
			p.out.WriteString(sc.Text() + "\n")
			p.mu.Unlock()
			p.lines <- sc.Text()
		}
	}()
	return p, nil
}

// until waits for a line that begins so.
func (p *program) until(begin string) error {
	late := time.After(90 * time.Second)
	for {
		select {
		case line, ok := <-p.lines:
			if !ok {
				return fmt.Errorf("it ended before it said %q: %s", begin, p.said())
			}
			if strings.HasPrefix(line, begin) {
				return nil
			}
		case <-late:
			return fmt.Errorf("it did not say %q: %s", begin, p.said())
		}
	}
}

// said gives all that it wrote so far, for messages.
func (p *program) said() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.out.String()
}

// warned gives all that it wrote to standard error so far.
func (p *program) warned() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.errs.String()
}

// end waits for its end and gives its exit code and what it wrote.
func (p *program) end() (code int, out, errs string) {
	for range p.lines {
	}
	_ = p.cmd.Wait() // the exit code says it
	return p.cmd.ProcessState.ExitCode(), p.said(), p.warned()
}

// heeltoe runs a command of the program to its end.
func heeltoe(args ...string) (code int, out, errs string) {
	p, err := start(args...)
	if err != nil {
		return -1, "", err.Error()
	}
	p.in.Close()
	return p.end()
}
