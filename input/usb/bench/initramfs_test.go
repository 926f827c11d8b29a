package bench_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// root is the guest's root folder: files by their path.
type root map[string][]byte

// program puts a program and the libraries that it needs where they stand here.
func (r root) program(at, file string) error {
	if err := r.file(at, file); err != nil {
		return err
	}
	out, err := command("ldd", file)
	if err != nil {
		return err
	}
	for line := range strings.Lines(string(out)) {
		// "libc.so.6 => /lib/x86_64-linux-gnu/libc.so.6 (0x…)" or "/lib64/ld-linux-x86-64.so.2 (0x…)"
		for _, word := range strings.Fields(line) {
			if filepath.IsAbs(word) {
				if err := r.file(word, word); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

func (r root) file(at, file string) error {
	text, err := os.ReadFile(file)
	r[at] = text
	return err
}

// archive packs the root as the kernel unpacks it: cpio in the "newc" form
// (Documentation/driver-api/early-userspace/buffer-format.rst).
func (r root) archive() []byte {
	var b bytes.Buffer
	n := 0
	entry := func(name string, mode int, text []byte) {
		n++
		// magic ino mode uid gid nlink mtime filesize devmajor devminor rdevmajor rdevminor namesize check
		fmt.Fprintf(&b, "070701%08x%08x%08x%08x%08x%08x%08x%08x%08x%08x%08x%08x%08x",
			n, mode, 0, 0, 1, 0, len(text), 0, 0, 0, 0, len(name)+1, 0)
		b.WriteString(name)
		b.WriteByte(0)
		pad4(&b)
		b.Write(text)
		pad4(&b)
	}
	var dirs []string
	for _, name := range append(sortedKeys(r), "/proc/.", "/sys/.", "/dev/.", "/tmp/.", "/home/.") {
		for d := path.Dir(name); d != "/" && !slices.Contains(dirs, d); d = path.Dir(d) {
			dirs = append(dirs, d)
		}
	}
	slices.Sort(dirs)
	for _, d := range dirs {
		entry(strings.TrimPrefix(d, "/"), 0o040755, nil)
	}
	for _, name := range sortedKeys(r) {
		entry(strings.TrimPrefix(name, "/"), 0o100755, r[name])
	}
	entry("TRAILER!!!", 0, nil)
	return b.Bytes()
}

func pad4(b *bytes.Buffer) {
	for b.Len()%4 != 0 {
		b.WriteByte(0)
	}
}

func sortedKeys(r root) []string {
	var names []string
	for name := range r {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// makeRoot builds the guest's init, which is this package's tests, and heeltoe
// as it is shipped, and packs them with the kernel's modules.
func makeRoot(dir string, k *kernel) (file string, err error) {
	initFile, heeltoe := filepath.Join(dir, "init"), filepath.Join(dir, "heeltoe")
	if _, err := command("go", "test", "-c", "-ldflags=-s -w", "-o", initFile, "heeltoe/input/usb/bench"); err != nil {
		return "", err
	}
	if _, err := command("go", "build", "-ldflags=-s -w", "-o", heeltoe, "heeltoe/cmd/heeltoe"); err != nil {
		return "", err
	}
	r := root{}
	err = errors.Join(r.program("/init", initFile), r.program("/bin/heeltoe", heeltoe))
	for i, m := range k.modules {
		err = errors.Join(err, r.file(fmt.Sprintf("/modules/%02d-%s", i, filepath.Base(m)), m))
	}
	if err != nil {
		return "", err
	}
	file = filepath.Join(dir, "root.cpio")
	return file, os.WriteFile(file, r.archive(), 0o644)
}
