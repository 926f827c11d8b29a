package page

import (
	"fmt"
	"strings"
	"time"

	"heeltoe/trainer/view"
)

// none stands for what is undefined.
const none = "–"

// tenth writes µs as ms to a tenth, signed.
func tenth(us view.Number) string { return written("%+.1f", us/1000) }

// plain is tenth for what has no sign.
func plain(us view.Number) string { return strings.TrimPrefix(tenth(us), "+") }

// hundredth writes µs as ms to a hundredth, signed.
func hundredth(us view.Number) string { return written("%+.2f", us/1000) }

// written writes a number by a format, with a proper minus.
func written(format string, v view.Number) string {
	if !v.Defined() {
		return none
	}
	return strings.Replace(fmt.Sprintf(format, float64(v)), "-", "−", 1)
}

// bpm writes beats a minute, two a number to a hundredth, count to a whole.
func bpm(v view.Number) string   { return written("%.1f", v) }
func two(v view.Number) string   { return written("%.2f", v) }
func count(v view.Number) string { return written("%.0f", v) }

// signedPercent writes a change of −1 and more.
func signedPercent(n view.Number) string { return written("%+.1f", 100*n) }

// points writes a share of 0 to 1 as percentage points, signed.
func points(n view.Number) string { return written("%+.2f", 100*n) }

// percent writes a share of 0 to 1.
func percent(n view.Number) string { return written("%.1f", 100*n) }

func share(n, of int) string {
	if of == 0 {
		return none
	}
	return fmt.Sprintf("%.1f %%", 100*float64(n)/float64(of))
}

// with writes a figure with its unit.
func with(text, unit string) string {
	if text == none {
		return text
	}
	return text + " " + unit
}

// sure writes an interval and the number behind it.
func sure(low, high view.Number, write func(view.Number) string, n int, of string) string {
	if !low.Defined() || !high.Defined() {
		return fmt.Sprintf("(n %d %s)", n, of)
	}
	return fmt.Sprintf("(%s to %s, n %d %s)", write(low), write(high), n, of)
}

// estimated gives a fact of an estimate.
func estimated(name string, e view.Estimate, unit string, write func(view.Number) string, of, means string) fact {
	return fact{name, with(write(e.Value), unit), sure(e.Low, e.High, write, e.N, of), means}
}

// between writes an interval alone.
func between(low, high view.Number, write func(view.Number) string) string {
	if !low.Defined() || !high.Defined() {
		return none
	}
	return write(low) + " to " + write(high)
}

func when(t time.Time) string {
	if t.IsZero() {
		return "not dated"
	}
	return t.Local().Format("2 January 2006, 15:04")
}

// conditions says under what conditions was played.
func conditions(player, pad, bar string, shoeMM int64) string {
	var parts []string
	for _, c := range []struct{ what, value string }{{"player", player}, {"pad", pad}, {"hands on the bar:", bar}} {
		if c.value != "" {
			parts = append(parts, c.what+" "+c.value)
		}
	}
	if shoeMM > 0 {
		parts = append(parts, fmt.Sprintf("shoes %d mm", shoeMM))
	}
	if len(parts) == 0 {
		return "Player, pad, shoes and bar are not known."
	}
	return upper(strings.Join(parts, ", ")) + "."
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func date(t time.Time) string { return t.Local().Format("2 January 2006") }
