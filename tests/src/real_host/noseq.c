/* A host that refuses to start where there is no ALSA sequencer (/dev/snd/seq, which containers
 * lack) starts with this preloaded: it finds a sequencer in which nothing ever happens. No headers
 * are needed: every object of the library is only passed on. Queue time follows the clock.
 * cc -shared -fPIC -O1 -o noseq.so noseq.c */
#define _GNU_SOURCE
#include <errno.h>
#include <poll.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <time.h>

enum { NONE = 255, START = 30, TEMPO = 35, BASE_SKEW = 0x10000 };

void snd_seq_queue_tempo_set_tempo(void *, unsigned);
void snd_seq_queue_tempo_set_ppq(void *, int);
void snd_seq_queue_tempo_set_skew(void *, unsigned);
void snd_seq_queue_tempo_set_skew_base(void *, unsigned);
unsigned snd_seq_queue_tempo_get_tempo(const void *);
int snd_seq_queue_tempo_get_ppq(const void *);

static int never_ready = -1, ticks_a_beat = 96;
static unsigned beat_us = 500000;
static double start_s;
static unsigned char no_event[64] = {NONE};

static double now_s(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return t.tv_sec + t.tv_nsec * 1e-9;
}

int snd_seq_open(void **seq, const char *name, int streams, int mode) {
    if (never_ready < 0) never_ready = eventfd(0, EFD_NONBLOCK);
    *seq = calloc(1, 4096);
    start_s = now_s();
    return 0;
}
int snd_seq_control_queue(void *seq, int queue, int type, int value, void *event) {
    if (type == START) start_s = now_s();
    if (type == TEMPO && value > 0) beat_us = value;
    return 0;
}
int snd_seq_event_input(void *seq, void **event) {
    *event = no_event;
    return -EAGAIN;
}
int snd_seq_get_queue_tempo(void *seq, int queue, void *tempo) {
    snd_seq_queue_tempo_set_tempo(tempo, beat_us);
    snd_seq_queue_tempo_set_ppq(tempo, ticks_a_beat);
    snd_seq_queue_tempo_set_skew(tempo, BASE_SKEW);
    snd_seq_queue_tempo_set_skew_base(tempo, BASE_SKEW);
    return 0;
}
int snd_seq_set_queue_tempo(void *seq, int queue, void *tempo) {
    unsigned us = snd_seq_queue_tempo_get_tempo(tempo);
    beat_us = us ? us : 500000;
    ticks_a_beat = snd_seq_queue_tempo_get_ppq(tempo);
    return 0;
}
unsigned snd_seq_queue_status_get_tick_time(const void *status) {
    return (now_s() - start_s) * 1e6 / beat_us * ticks_a_beat;
}
int snd_seq_poll_descriptors(void *seq, struct pollfd *fds, unsigned space, short events) {
    if (space) fds[0] = (struct pollfd){.fd = never_ready, .events = POLLIN};
    return space ? 1 : 0;
}
int snd_seq_alloc_queue(void *seq) {
    static int queue;
    return queue++;
}
int snd_seq_create_simple_port(void *seq, const char *name, unsigned caps, unsigned type) {
    static int port;
    return port++;
}
int snd_seq_poll_descriptors_count(void *seq, short events) { return 1; }
int snd_seq_client_id(void *seq) { return 128; }

#define GIVES(name, value) int name(void *a, void *b, void *c, void *d) { return value; }
GIVES(snd_seq_close, 0)
GIVES(snd_seq_free_queue, 0)
GIVES(snd_seq_delete_simple_port, 0)
GIVES(snd_seq_drain_output, 0)
GIVES(snd_seq_drop_input, 0)
GIVES(snd_seq_drop_output, 0)
GIVES(snd_seq_event_input_pending, 0)
GIVES(snd_seq_event_output, 0)
GIVES(snd_seq_event_output_direct, 0)
GIVES(snd_seq_free_event, 0)
GIVES(snd_seq_get_any_client_info, -ENOENT)
GIVES(snd_seq_get_any_port_info, -ENOENT)
GIVES(snd_seq_get_port_info, 0)
GIVES(snd_seq_set_port_info, 0)
GIVES(snd_seq_get_queue_status, 0)
GIVES(snd_seq_set_queue_timer, 0)
GIVES(snd_seq_query_next_client, -ENOENT)
GIVES(snd_seq_query_next_port, -ENOENT)
GIVES(snd_seq_query_port_subscribers, -ENOENT)
GIVES(snd_seq_remove_events, 0)
GIVES(snd_seq_set_client_name, 0)
GIVES(snd_seq_subscribe_port, 0)
GIVES(snd_seq_unsubscribe_port, 0)
GIVES(snd_timer_query_open, -ENOENT)
GIVES(snd_timer_open, -ENOENT)
