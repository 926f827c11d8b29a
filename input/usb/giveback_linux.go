package usb

import (
	"unsafe"

	"golang.org/x/sys/unix"
)

// usbIoctl is struct usbdevfs_ioctl of linux/usbdevice_fs.h: a request that is passed on to
// an interface.
type usbIoctl struct {
	interfaceNumber, code int32
	data                  unsafe.Pointer
}

// Requests, as asm-generic/ioctl.h makes them up: _IO('U', 23), and _IOWR('U', 18, …).
const (
	usbConnect = 'U'<<8 | 23
	usbPassOn  = 3<<30 | uint(unsafe.Sizeof(usbIoctl{}))<<16 | 'U'<<8 | 18
)

// giveBack lets the kernel's own driver have an interface of the device with the device file
// given. Where that has it, or a program does, nothing happens.
func giveBack(node string, number int) {
	fd, err := unix.Open(node, unix.O_RDWR|unix.O_CLOEXEC, 0)
	if err != nil {
		return // unplugged
	}
	defer unix.Close(fd)
	ask := usbIoctl{interfaceNumber: int32(number), code: usbConnect}
	_, _, _ = unix.Syscall(unix.SYS_IOCTL, uintptr(fd), uintptr(usbPassOn), uintptr(unsafe.Pointer(&ask)))
}
