// The grants: lines of text on a stream socket, a request and its answer in turn.
//
//   hello        -> simulated strawline-bench 1     the 1 is the version of these lines
//   opened       -> reset                           the host has opened the terminal just now, and
//                                                   has written nothing yet
//   grant SENT   -> said N                          see below
//   anything bad -> error TEXT                      and the connection ends
//
// grant SENT: the bench takes the host's bytes until it has had SENT of them in this opening (3 s
// on the wall at most), runs 250 ms of simulated time, and then answers with the count of bytes
// that the board has written to this opening; they are in the terminal by then. A byte for which
// the terminal has no room is lost and not counted. opened resets the board as DTR does on a real
// one, begins both counts at 0 and forgets what was under way. Before the first opened, a grant
// takes nothing and says 0.
#define _GNU_SOURCE
#include "grants.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <termios.h>
#include <unistd.h>

#include "mcu.h"
#include "script.h"

#define GRANT (MCU_HZ / 4)
#define TAKE_MS 3000
#define TAKE_MAX 60000 // bytes in one grant; the line to the board holds a few more

static int ours = -1, theirs = -1; // the terminal's ends; theirs keeps it alive between openings
static int opened;
static unsigned long long got, said;
static uint64_t now; // granted so far, cycles
static const char *socket_path;

static uint8_t spoken[65536]; // by the board in this grant
static size_t spoken_count;

void grants_said(uint8_t byte)
{
	if (spoken_count < sizeof spoken)
		spoken[spoken_count++] = byte;
}

static void flush(void)
{
	char junk[512];
	tcflush(theirs, TCIOFLUSH);
	while (read(ours, junk, sizeof junk) > 0)
		;
}

// take reads the host's bytes and puts them on the line to the board; NULL, or what is wrong.
static const char *take(unsigned long long sent)
{
	uint8_t buffer[512];
	int waits = 0;
	if (sent < got)
		return "fewer bytes were granted than were taken";
	if (sent - got > TAKE_MAX)
		return "too many bytes were granted at once";
	while (got < sent) {
		size_t want = sent - got < sizeof buffer ? (size_t)(sent - got) : sizeof buffer;
		ssize_t n = read(ours, buffer, want);
		if (n > 0) {
			got += (unsigned long long)n;
			for (ssize_t i = 0; i < n; i++)
				if (!mcu_hear(buffer[i]))
					return "the line to the board is full";
			continue;
		}
		if (n < 0 && errno != EAGAIN && errno != EINTR)
			return strerror(errno);
		struct pollfd p = {ours, POLLIN, 0};
		if (poll(&p, 1, TAKE_MS / 50) == 0 && ++waits > 50)
			return "the host's bytes did not come";
	}
	return NULL;
}

static void give(void)
{
	size_t done = 0;
	while (opened && done < spoken_count) {
		ssize_t n = write(ours, spoken + done, spoken_count - done);
		if (n < 0 && errno == EINTR)
			continue;
		if (n <= 0)
			break; // nobody reads: as on a wire, the rest is lost
		done += (size_t)n;
	}
	said += done;
	spoken_count = 0;
}

// answer gives 0 if the connection is to end.
static int answer(FILE *to, const char *request)
{
	unsigned long long sent;
	char end;
	const char *why = NULL;
	if (!strcmp(request, "hello")) {
		fprintf(to, "simulated strawline-bench 1\n");
	} else if (!strcmp(request, "opened")) {
		flush();
		mcu_reset();
		spoken_count = 0;
		opened = 1;
		got = said = 0;
		fprintf(to, "reset\n");
	} else if (sscanf(request, "grant %llu%c", &sent, &end) == 1) {
		if (opened)
			why = take(sent);
		if (!why) {
			now += GRANT;
			script_run(now, 0);
			give();
			fprintf(to, "said %llu\n", said);
		}
	} else {
		why = "hello, opened or grant SENT";
	}
	if (why)
		fprintf(to, "error %s\n", why);
	return fflush(to) == 0 && !why;
}

static void serve(int fd)
{
	char line[64];
	FILE *from = fdopen(fd, "r"), *to = fdopen(dup(fd), "w");
	if (!from || !to)
		abort();
	while (fgets(line, sizeof line, from)) {
		line[strcspn(line, "\n")] = 0;
		if (!answer(to, line))
			break;
	}
	fclose(from);
	fclose(to);
}

static int terminal(void)
{
	struct termios t;
	ours = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
	if (ours < 0 || grantpt(ours) || unlockpt(ours))
		return 1;
	theirs = open(ptsname(ours), O_RDWR | O_NOCTTY | O_CLOEXEC);
	if (theirs < 0 || tcgetattr(theirs, &t))
		return 1;
	cfmakeraw(&t);
	return tcsetattr(theirs, TCSANOW, &t) || fcntl(ours, F_SETFL, O_NONBLOCK) < 0;
}

// leave takes the socket away; only calls that a signal allows.
static void leave(int signal)
{
	(void)signal;
	unlink(socket_path);
	_exit(0);
}

int grants_serve(const char *path)
{
	struct sockaddr_un name = {.sun_family = AF_UNIX};
	if (strlen(path) >= sizeof name.sun_path) {
		fprintf(stderr, "bench: the socket's path is too long\n");
		return 1;
	}
	strcpy(name.sun_path, path);
	umask(0077); // for this person alone
	int listening = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
	if (terminal() || listening < 0 || bind(listening, (struct sockaddr *)&name, sizeof name) ||
	    listen(listening, 1)) {
		perror(path);
		return 1;
	}
	socket_path = path;
	signal(SIGPIPE, SIG_IGN);
	signal(SIGTERM, leave);
	signal(SIGINT, leave);
	printf("pty %s\n", ptsname(ours));
	fflush(stdout);
	for (;;) {
		int fd = accept4(listening, NULL, NULL, SOCK_CLOEXEC);
		if (fd >= 0)
			serve(fd);
	}
}
