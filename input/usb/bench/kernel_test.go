package bench_test

import (
	"archive/tar"
	"bytes"
	"debug/elf"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// kernel is a Linux kernel to boot: Debian's own, as its archive has it.
type kernel struct {
	image   string   // an ELF file, which QEMU boots without a BIOS
	modules []string // files, each after those that it needs
}

// wanted are the drivers of the guest: two host controllers, HID and input events.
var wanted = []string{"vhci-hcd", "xhci-pci", "usbhid", "hid-generic", "evdev"}

// fetchKernel gives the kernel from the cache, or downloads Debian's package of
// it into the cache first. The folder is heeltoe-bench in the user's cache.
func fetchKernel() (*kernel, error) {
	cache, err := os.UserCacheDir()
	if err != nil {
		return nil, err
	}
	cache = filepath.Join(cache, "heeltoe-bench")
	if err := os.MkdirAll(cache, 0o755); err != nil {
		return nil, err
	}
	if k, err := cachedKernel(cache); err == nil {
		return k, nil
	}
	out, err := command("apt-cache", "depends", "linux-image-amd64")
	if err != nil {
		return nil, err
	}
	_, name, ok := strings.Cut(string(out), "Depends: ")
	name, _, _ = strings.Cut(name, "\n")
	if name = strings.TrimSpace(name); !ok || name == "" {
		return nil, fmt.Errorf("the package archive names no kernel: %q", out)
	}
	debs, _ := filepath.Glob(filepath.Join(cache, name+"_*.deb"))
	if len(debs) == 0 {
		fetch := exec.Command("apt-get", "download", "-q", name)
		fetch.Dir = cache
		if text, err := fetch.CombinedOutput(); err != nil {
			return nil, fmt.Errorf("apt-get download %s: %w\n%s", name, err, text)
		}
		if debs, _ = filepath.Glob(filepath.Join(cache, name+"_*.deb")); len(debs) == 0 {
			return nil, fmt.Errorf("apt-get download %s left no package", name)
		}
	}
	if err := unpack(debs[0], cache); err != nil {
		return nil, err
	}
	os.Remove(debs[0])
	return cachedKernel(cache)
}

// cachedKernel gives the newest kernel that has been unpacked.
func cachedKernel(cache string) (*kernel, error) {
	images, _ := filepath.Glob(filepath.Join(cache, "vmlinux-*"))
	if len(images) == 0 {
		return nil, os.ErrNotExist
	}
	k := &kernel{image: slices.Max(images)}
	version := strings.TrimPrefix(filepath.Base(k.image), "vmlinux-")
	all, err := filepath.Glob(filepath.Join(cache, "modules-"+version, "*.ko"))
	if err != nil || len(all) == 0 {
		return nil, os.ErrNotExist
	}
	byName := map[string]string{}
	for _, file := range all {
		byName[strings.TrimSuffix(filepath.Base(file), ".ko")] = file
	}
	seen := map[string]bool{}
	var need func(name string) error
	need = func(name string) error {
		file, ok := byName[name]
		if !ok || seen[name] {
			return nil // built in, or there already
		}
		seen[name] = true
		deps, err := depends(file)
		if err != nil {
			return err
		}
		for _, d := range deps {
			if err := need(d); err != nil {
				return err
			}
		}
		k.modules = append(k.modules, file)
		return nil
	}
	for _, name := range wanted {
		if byName[name] == "" {
			return nil, fmt.Errorf("the kernel has no module %s", name)
		}
		if err := need(name); err != nil {
			return nil, err
		}
	}
	return k, nil
}

// unpack takes the kernel's image and the modules that may be wanted out of its
// package.
func unpack(deb, cache string) error {
	c := exec.Command("dpkg-deb", "--fsys-tarfile", deb)
	out, err := c.StdoutPipe()
	if err != nil {
		return err
	}
	if err := c.Start(); err != nil {
		return err
	}
	var image []byte
	version := ""
	modules := map[string][]byte{}
	tr := tar.NewReader(out)
	for {
		h, err := tr.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return errors.Join(err, c.Wait())
		}
		base := path.Base(h.Name)
		switch {
		case strings.HasPrefix(base, "vmlinuz-"):
			version = strings.TrimPrefix(base, "vmlinuz-")
			image, err = io.ReadAll(tr)
		case strings.HasSuffix(base, ".ko") && (strings.Contains(h.Name, "/kernel/drivers/usb/") ||
			strings.Contains(h.Name, "/kernel/drivers/hid/") || strings.Contains(h.Name, "/kernel/drivers/input/")):
			modules[base], err = io.ReadAll(tr)
		}
		if err != nil {
			return errors.Join(err, c.Wait())
		}
	}
	if err := c.Wait(); err != nil {
		return err
	}
	elf, err := uncompressed(image)
	if err != nil {
		return err
	}
	dir := filepath.Join(cache, "modules-"+version)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for name, text := range modules {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o644); err != nil {
			return err
		}
	}
	// Last, since it says that the rest is there.
	part := filepath.Join(cache, "part-"+version)
	if err := os.WriteFile(part, elf, 0o644); err != nil {
		return err
	}
	return os.Rename(part, filepath.Join(cache, "vmlinux-"+version))
}

// uncompressed gives the ELF file within a bzImage (the kernel's x86 boot
// protocol: setup_sects at 0x1f1, payload_offset and payload_length at 0x248).
// QEMU starts that directly, which spares the guest the unpacking.
func uncompressed(image []byte) ([]byte, error) {
	if len(image) < 0x250 {
		return nil, errors.New("the package holds no kernel image")
	}
	sectors := int(image[0x1f1])
	if sectors == 0 {
		sectors = 4
	}
	at := (sectors+1)*512 + int(binary.LittleEndian.Uint32(image[0x248:]))
	n := int(binary.LittleEndian.Uint32(image[0x24c:]))
	if at+n > len(image) {
		return nil, errors.New("the kernel image is cut short")
	}
	packed := image[at : at+n]
	for magic, tool := range map[string][]string{"\xfd7zX": {"xz", "-dc", "--single-stream"},
		"\x28\xb5\x2f\xfd": {"zstd", "-dcq"}, "\x1f\x8b\x08": {"gzip", "-dcq"}} {
		if !bytes.HasPrefix(packed, []byte(magic)) {
			continue
		}
		c := exec.Command(tool[0], tool[1:]...)
		c.Stdin = bytes.NewReader(packed)
		out, err := c.Output() // tools may complain about what follows the stream
		if !bytes.HasPrefix(out, []byte(elf.ELFMAG)) {
			return nil, fmt.Errorf("%s gives no ELF file: %w", tool[0], err)
		}
		return out, nil
	}
	return nil, fmt.Errorf("the kernel is packed in a way that is not known: % x", packed[:4])
}

// depends gives the modules that a module needs, as its .modinfo section says.
func depends(file string) ([]string, error) {
	f, err := elf.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	s := f.Section(".modinfo")
	if s == nil {
		return nil, fmt.Errorf("%s is not a kernel module", file)
	}
	info, err := s.Data()
	if err != nil {
		return nil, err
	}
	for entry := range strings.SplitSeq(string(info), "\x00") {
		if list, ok := strings.CutPrefix(entry, "depends="); ok && list != "" {
			deps := strings.Split(list, ",")
			for i := range deps {
				deps[i] = strings.ReplaceAll(deps[i], "_", "-") // as the files are called
			}
			return deps, nil
		}
	}
	return nil, nil
}

// command runs a program and gives its standard output.
func command(name string, args ...string) ([]byte, error) {
	out, err := exec.Command(name, args...).Output()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		err = fmt.Errorf("%s %s: %w\n%s", name, strings.Join(args, " "), err, exit.Stderr)
	}
	return out, err
}
