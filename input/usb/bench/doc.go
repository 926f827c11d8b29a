// Package bench makes USB pads that do not exist, for tests of the whole path
// from the plug to the run log. A Device speaks USB/IP (the protocol of the
// Linux kernel's usbip_protocol document) over a socket whose other end is given
// to the kernel's virtual host controller, vhci_hcd: from there on everything is
// real, the kernel's USB and HID drivers, the library and the program. It needs
// root and that driver, so the tests boot a kernel of their own in QEMU, in
// virtual time, where a millisecond is a millisecond however slow the machine.
package bench
