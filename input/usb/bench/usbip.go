//go:build linux

package bench

import (
	"encoding/binary"
	"io"
	"unicode/utf16"
)

// Commands of USB/IP and the errors that a device answers with, as the kernel
// numbers them (Documentation/usb/usbip_protocol.rst).
const (
	cmdSubmit = 1
	cmdUnlink = 2
	retSubmit = 3
	retUnlink = 4

	statusPipe  = -32  // EPIPE: the endpoint stalls
	statusReset = -104 // ECONNRESET: the transfer was unlinked
)

// request is the header of a command: 48 bytes, numbers with the high byte first.
type request struct {
	command, seq uint32
	in           bool // device to host
	endpoint     uint32
	length       uint32 // of the transfer; of an unlink: the seq that is unlinked
	setup        [8]byte
	data         []byte // what the host sends
	unlinked     uint32
}

const headerBytes = 48

// readRequest reads a command and what follows it.
func readRequest(r io.Reader) (request, error) {
	var b [headerBytes]byte
	if _, err := io.ReadFull(r, b[:]); err != nil {
		return request{}, err
	}
	u32 := func(at int) uint32 { return binary.BigEndian.Uint32(b[at:]) }
	q := request{command: u32(0), seq: u32(4), in: u32(12) == 1, endpoint: u32(16), unlinked: u32(20), length: u32(24)}
	copy(q.setup[:], b[40:])
	if q.command == cmdSubmit && !q.in && q.length > 0 {
		q.data = make([]byte, q.length)
		if _, err := io.ReadFull(r, q.data); err != nil {
			return request{}, err
		}
	}
	return q, nil
}

// answer makes the reply to a command: actual is how many bytes were moved, of
// which data are those to the host.
func answer(command, seq uint32, status int32, actual int, data []byte) []byte {
	b := make([]byte, headerBytes, headerBytes+len(data))
	binary.BigEndian.PutUint32(b[0:], command)
	binary.BigEndian.PutUint32(b[4:], seq)
	binary.BigEndian.PutUint32(b[20:], uint32(status))
	binary.BigEndian.PutUint32(b[24:], uint32(actual))
	return append(b, data...)
}

// Requests and descriptor types of USB 2.0 (9.4, 9.5) and HID 1.11 (7.1, 7.2).
const (
	getStatus, getDescriptor, getConfiguration = 0, 6, 8

	typeDevice, typeConfiguration, typeString = 1, 2, 3
	typeHID, typeReport                       = 0x21, 0x22

	hidGetReport = 1
)

// control answers a control transfer; ok is false where the device stalls.
func (m *Model) control(q *request, report []byte) (data []byte, ok bool) {
	kind, what := q.setup[0], q.setup[1]
	toHost := kind&0x80 != 0
	class := kind&0x60 == 0x20
	value := binary.LittleEndian.Uint16(q.setup[2:])
	switch {
	case !toHost:
		return nil, true // settings are taken as they come
	case class && what == hidGetReport:
		data = report
	case class:
		return nil, false
	case what == getStatus:
		data = []byte{0, 0}
	case what == getConfiguration:
		data = []byte{1}
	case what == getDescriptor:
		switch value >> 8 {
		case typeDevice:
			data = m.device()
		case typeConfiguration:
			data = m.configuration()
		case typeString:
			data = m.text(byte(value))
		case typeHID:
			data = m.configuration()[18:27]
		case typeReport:
			data = m.Descriptor
		}
	}
	if data == nil {
		return nil, false
	}
	if most := int(binary.LittleEndian.Uint16(q.setup[6:])); len(data) > most {
		data = data[:most]
	}
	return data, true
}

// device gives the device descriptor (USB 2.0, table 9-8): full speed, strings
// 1 to 3 for maker, name and serial number.
func (m *Model) device() []byte {
	serial := byte(3)
	if m.Serial == "" {
		serial = 0
	}
	return []byte{18, typeDevice, 0x00, 0x02, 0, 0, 0, 64, Vendor & 0xff, Vendor >> 8, byte(m.Product), byte(m.Product >> 8), 0x00, 0x01, 1, 2, serial, 1}
}

// configuration gives the configuration descriptor with its interface, HID and
// endpoint descriptors (USB 2.0, tables 9-10, 9-12, 9-13; HID 1.11, 6.2.1).
func (m *Model) configuration() []byte {
	n := len(m.Descriptor)
	return []byte{
		9, typeConfiguration, 34, 0, 1, 1, 0, 0xa0, 50,
		9, 4, 0, 0, 1, 3, 0, 0, 0,
		9, typeHID, 0x11, 0x01, 0, 1, typeReport, byte(n), byte(n >> 8),
		7, 5, 0x81, 3, 64, 0, m.Interval,
	}
}

// text gives a string descriptor (USB 2.0, table 9-16).
func (m *Model) text(i byte) []byte {
	if i == 0 {
		return []byte{4, typeString, 0x09, 0x04} // English
	}
	words := map[byte]string{1: "Bench Works", 2: m.Name, 3: m.Serial}[i]
	if words == "" {
		return nil
	}
	b := []byte{0, typeString}
	for _, u := range utf16.Encode([]rune(words)) {
		b = append(b, byte(u), byte(u>>8))
	}
	b[0] = byte(len(b))
	return b
}
