package view

// Caution is shown with every report, and CautionLong where there is room for
// it. They warn and are no medical advice.
const (
	Caution = "Warm up, start slow, fix pad and bar, wear shoes, rest. Stop at pain or dizziness. With a condition, ask a doctor or physiotherapist first."

	CautionLong = `This is vigorous stepping and jumping, and a fall or an overused joint can hurt.
Warm up, start slow and short, and build up over weeks. Fix pad and bar so that
neither can slip, keep the floor dry, flat and clear, wear shoes that suit you,
and rest between runs. Stop at once at pain or dizziness, if you feel faint or
very short of breath, or feel anything in your chest. With a condition or an
injury, in pregnancy, or after a long time without exercise, ask a doctor or
physiotherapist first. heeltoe measures presses, not health; it gives no
medical advice.`
)
