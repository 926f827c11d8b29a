package bench_test

import (
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/usb/bench"
)

// Each pad can be taught by its reports alone, without a kernel, and what was
// taught reads them: sensors are values where the device has values.
func TestModelsAreTaught(t *testing.T) {
	for _, p := range bench.Pads() {
		t.Run(p.Name, func(t *testing.T) {
			teacher := input.NewTeacher(p.Layout, 0)
			var devices []input.Device
			for i, m := range p.Models {
				d, err := input.ParseDescriptor(m.Descriptor)
				if err != nil {
					t.Fatal(err)
				}
				teacher.Describe(i, d)
				devices = append(devices, input.Device{Identity: m.Identity(), Name: m.Name})
			}
			now, frame := pad.Time(0), uint64(0)
			was := pad.PanelSet(0)
			hold := func(down pad.PanelSet, d pad.Time) {
				for end := now + d; now < end; now += 4 * pad.Millisecond {
					frame += 4
					for i, m := range p.Models {
						for _, part := range m.Parts {
							if (down^was)&part.Panels == 0 && !m.Repeats {
								continue
							}
							if err := teacher.Feed(now, i, part.Encode(down, frame)); err != nil {
								t.Fatal(err)
							}
						}
					}
					was = down
				}
			}
			phase := func(q pad.Panel) {
				if err := teacher.Phase(q); err != nil {
					t.Fatal(err)
				}
				hold(0, 400*pad.Millisecond)
			}
			phase(input.Rest)
			for q := range p.Layout.Panels {
				phase(pad.Panel(q))
				for range input.DefaultPresses {
					hold(pad.SetOf(pad.Panel(q)), 120*pad.Millisecond)
					hold(0, 200*pad.Millisecond)
				}
			}
			m, _, err := teacher.Map(devices)
			if err != nil {
				t.Fatal(err)
			}
			for _, s := range m.Sensors {
				if value := s.Format != input.Bits; value != (p.Name == "analogue") {
					t.Errorf("%s is read at %s", p.Layout.ID(s.Panel), s)
				}
			}
			dec, err := input.NewDecoder(m)
			if err != nil {
				t.Fatal(err)
			}
			for down := range pad.PanelSet(1 << len(p.Layout.Panels)) {
				frame++
				for i, m := range p.Models {
					for _, part := range m.Parts {
						dec.Decode(nil, 0, i, part.Encode(down, frame))
					}
				}
				if got := dec.Down(); got != down {
					t.Fatalf("%b is read as %b", down, got)
				}
			}
		})
	}
}
