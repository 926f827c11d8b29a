package profile_test

import (
	"bytes"
	"reflect"
	"strings"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/trainer/profile"
)

// The keys that a layout begins with: a block of two over two with a bar, once a pad.
func TestDefaultKeys(t *testing.T) {
	k := profile.DefaultKeys()
	if err := k.Check(); err != nil {
		t.Fatal(err)
	}
	for key, id := range map[string]string{"R": "nw", "F": "sw", "U": "ne", "J": "se", "Space": "c"} {
		if p, ok := k.Panel("single", key); !ok || pad.Single.ID(p) != id {
			t.Errorf("key %s stands for %v", key, p)
		}
		if p, ok := k.Panel("double", key); !ok || pad.Double.ID(p) != "1"+id {
			t.Errorf("key %s of two pads stands for %v", key, p)
		}
	}
	if p, ok := k.Panel("double", "Numpad4"); !ok || pad.Double.ID(p) != "2sw" {
		t.Errorf("Numpad4 stands for %v", p)
	}
	if _, ok := k.Panel("single", "Q"); ok {
		t.Error("Q stands for a panel")
	}
}

func TestKeysRoundTrip(t *testing.T) {
	home(t)
	if k, err := profile.LoadKeys(); err != nil || !reflect.DeepEqual(k, profile.DefaultKeys()) {
		t.Fatalf("without a file: %v, %v", k, err)
	}
	k := profile.DefaultKeys()
	k["single"][2] = "ShiftRight"
	if err := profile.SaveKeys(k); err != nil {
		t.Fatal(err)
	}
	if got, err := profile.LoadKeys(); err != nil || !reflect.DeepEqual(got, k) {
		t.Errorf("got %v, %v", got, err)
	}
	k["single"][2] = "R"
	if profile.SaveKeys(k) == nil {
		t.Error("one key for two panels was saved")
	}
	k["single"][2] = ""
	if profile.SaveKeys(k) == nil {
		t.Error("a panel without a key was saved")
	}
}

func TestKeyFaults(t *testing.T) {
	const one = "[[key]]\nlayout = 'single'\npanel = 'c'\nkey = 'X'\n"
	for _, c := range []struct{ text, place, says string }{
		{strings.Replace(one, "'single'", "'round'", 1), "k.toml:2:10: ", "no layout"},
		{strings.Replace(one, "'c'", "'1c'", 1), "k.toml:3:9: ", "not a panel"},
		{strings.Replace(one, "'X'", "'R'", 1), "k.toml:4:7: ", "stands for two panels"},
		{strings.Replace(one, "'X'", "''", 1), "k.toml:4:7: ", ""},
		{one + strings.Replace(one, "'c'", "'sw'", 1), "k.toml:4:7: ", "stands for two panels"},
		{one + "bar = 3\n", "k.toml:5:1: ", "unknown key"},
	} {
		if _, err := profile.ParseKeys("k.toml", []byte(c.text)); !pad.IsBadInput(err) || !strings.HasPrefix(err.Error(), c.place) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: got %v, want %s…%s", c.text, err, c.place, c.says)
		}
	}
	if k, err := profile.ParseKeys("k.toml", []byte(one)); err != nil || k["single"][2] != "X" || k["single"][0] != "R" {
		t.Errorf("one key changed: %v, %v", k, err)
	}
}

func FuzzKeys(f *testing.F) {
	f.Add([]byte("[[key]]\nlayout = 'single'\npanel = 'c'\nkey = 'X'\n"))
	f.Add([]byte("key = [{layout='double',panel='2se',key='Numpad3'}]"))
	f.Fuzz(func(t *testing.T, text []byte) {
		k, err := profile.ParseKeys("f", text)
		if err != nil {
			if !pad.IsBadInput(err) {
				t.Fatalf("%v is no *pad.BadInput", err)
			}
			return
		}
		once, err := k.Text()
		if err != nil {
			t.Fatal(err)
		}
		q, err := profile.ParseKeys("f", once)
		if err != nil || !reflect.DeepEqual(q, k) {
			t.Fatalf("%v in %q", err, once)
		}
		if twice, err := q.Text(); err != nil || !bytes.Equal(once, twice) {
			t.Fatalf("%q became %q (%v)", once, twice, err)
		}
	})
}
