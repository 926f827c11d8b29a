// Package evdev hears pads through the input events of the Linux kernel
// (/dev/input/event*). The kernel's driver stays with the device and stamps each
// event itself, so that nothing in user space can be late; pads that act as
// keyboards work too. What the kernel has no key or axis for is not heard.
//
// A device's state is made into a report of ReportBytes: a bit for each key of
// the kernel's, by its code, then the position of each absolute axis as a
// little-endian word of 16 bits, by its code, cut to what fits. So everything
// that is taught by reports can be taught by events.
package evdev
