package profile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"heeltoe/judge/drill/tomldoc"
)

// Bars are the answers to how many hands hold the bar.
var Bars = []string{"none", "one", "both"}

// Clicks are the sounds of the metronome; MinLoudnessDB is the least loudness, in dB
// below full scale.
var Clicks = []string{"tick", "wood", "tone", "off"}

const MinLoudnessDB = -60

// Settings are the conditions of a run, as they were last used.
type Settings struct {
	Player string `toml:"player,omitempty"`
	Pad    string `toml:"pad,omitempty"`     // name or slug
	ShoeMM int64  `toml:"shoe_mm,omitempty"` // outsole length, 0 where not given
	Bar    string `toml:"bar,omitempty"`     // one of Bars, or ""
	Drill  string `toml:"drill,omitempty"`   // file, or name of one that is built in

	Click      string  `toml:"click,omitempty"`       // one of Clicks, or "" where none was chosen
	LoudnessDB float64 `toml:"loudness_db,omitempty"` // of the click, where one was chosen: MinLoudnessDB to 0
}

// check gives the key of what is wrong, and what.
func (s *Settings) check() (key, msg string) {
	for _, v := range []struct{ key, text string }{{"player", s.Player}, {"pad", s.Pad}} {
		if v.text == "" {
			continue
		}
		if msg := badName(v.text); msg != "" {
			return v.key, msg
		}
	}
	switch {
	case !goodShoe(s.ShoeMM):
		return "shoe_mm", fmt.Sprintf("%d is not from %d to %d", s.ShoeMM, MinShoeMM, MaxShoeMM)
	case s.Bar != "" && s.Bar != "none" && s.Bar != "one" && s.Bar != "both":
		return "bar", fmt.Sprintf("%q is none of %s", s.Bar, strings.Join(Bars, ", "))
	case s.Click != "" && !slices.Contains(Clicks, s.Click):
		return "click", fmt.Sprintf("%q is none of %s", s.Click, strings.Join(Clicks, ", "))
	case !(s.LoudnessDB >= MinLoudnessDB && s.LoudnessDB <= 0):
		return "loudness_db", fmt.Sprintf("%v is not from %d to 0", s.LoudnessDB, MinLoudnessDB)
	case strings.ContainsRune(s.Drill, 0) || len(s.Drill) > 4096:
		return "drill", "takes at most 4096 bytes, none of them 0"
	}
	return "", ""
}

// ParseSettings reads settings; file stands for them in messages. Faults are
// *pad.BadInput.
func ParseSettings(file string, text []byte) (*Settings, error) {
	var s Settings
	doc, err := tomldoc.Decode(file, text, &s)
	if err != nil {
		return nil, err
	}
	if key, msg := s.check(); key != "" {
		return nil, doc.Errorf(key, "%s", msg)
	}
	return &s, nil
}

// Text gives the settings as a file; ParseSettings of it gives equal ones.
func (s *Settings) Text() ([]byte, error) {
	if key, msg := s.check(); key != "" {
		return nil, fmt.Errorf("%s: %s", key, msg)
	}
	return toml.Marshal(s)
}

// SettingsFile gives the path of the settings.
func SettingsFile() string { return filepath.Join(Dir(), "settings.toml") }

// LoadSettings reads the settings; where there are none yet they are empty.
func LoadSettings() (*Settings, error) {
	file := SettingsFile()
	if _, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		return &Settings{}, nil
	}
	text, err := tomldoc.ReadFile(file, MaxBytes)
	if err != nil {
		return nil, err
	}
	return ParseSettings(file, text)
}

// SaveSettings writes the settings, whole or not at all.
func SaveSettings(s *Settings) error {
	text, err := s.Text()
	if err != nil {
		return err
	}
	return write(SettingsFile(), text)
}
