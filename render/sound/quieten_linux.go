package sound

/*
#cgo pkg-config: alsa
#include <dlfcn.h>
#include <alsa/asoundlib.h>

static void alsa_says_nothing(const char *file, int line, const char *function, int err, const char *fmt, ...) {}
static void jack_says_nothing(const char *message) {}

typedef void (*jack_set)(void (*)(const char *));

// ALSA may be set up to play through a JACK server, by a plug-in that loads JACK's library. Where
// that is installed it is loaded here, so that it is already quiet when the plug-in comes to it.
static void quieten(void) {
	static const char *const functions[] = {"jack_set_error_function", "jack_set_info_function"};
	snd_lib_error_set_handler(alsa_says_nothing);
	void *jack = dlopen("libjack.so.0", RTLD_LAZY);
	for (int i = 0; jack && i < 2; i++) {
		jack_set set = (jack_set)dlsym(jack, functions[i]);
		if (set)
			set(jack_says_nothing);
	}
}
*/
import "C"

// quieten keeps ALSA, and JACK behind it, from writing to standard error what they found
// wrong: a Status says it in words, and the commands' own messages stay readable.
func quieten() { C.quieten() }
