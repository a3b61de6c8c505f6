/* Measures a file of interleaved stereo 32-bit floats with libebur128, once for every line on
 * stdin, and prints the seconds and what it found: integrated, LRA, highest momentary and
 * short-term, true peak. Loudness and range are read at the end; momentary and short-term every
 * 100 ms if the line says "maxima", as they must be to give their maxima, and never if not. */
#include <ebur128.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static double now_s(void) {
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

int main(int argc, char **argv) {
    if (argc != 3) return 2;
    unsigned long rate_hz = strtoul(argv[2], NULL, 10);
    FILE *file = fopen(argv[1], "rb");
    if (!file || rate_hz < 100) return 2;
    fseek(file, 0, SEEK_END);
    size_t len_frames = (size_t)ftell(file) / (2 * sizeof(float));
    rewind(file);
    float *samples = malloc(len_frames * 2 * sizeof(float));
    if (!samples || fread(samples, 2 * sizeof(float), len_frames, file) != len_frames) return 2;
    char line[64];
    while (fgets(line, sizeof line, stdin)) {
        int maxima = strncmp(line, "maxima", 6) == 0;
        double start_s = now_s();
        ebur128_state *meter = ebur128_init(2, rate_hz,
            EBUR128_MODE_M | EBUR128_MODE_S | EBUR128_MODE_I | EBUR128_MODE_LRA |
            EBUR128_MODE_TRUE_PEAK);
        if (!meter) return 3;
        double highest_m = -1e9, highest_s = -1e9, value;
        size_t step_frames = rate_hz / 10;
        for (size_t at = 0; at < len_frames; at += step_frames) {
            size_t left = len_frames - at;
            ebur128_add_frames_float(meter, samples + 2 * at, left < step_frames ? left : step_frames);
            if (maxima) {
                ebur128_loudness_momentary(meter, &value);
                if (value > highest_m) highest_m = value;
                ebur128_loudness_shortterm(meter, &value);
                if (value > highest_s) highest_s = value;
            }
        }
        double integrated, range, left_peak, right_peak;
        ebur128_loudness_global(meter, &integrated);
        ebur128_loudness_range(meter, &range);
        ebur128_true_peak(meter, 0, &left_peak);
        ebur128_true_peak(meter, 1, &right_peak);
        ebur128_destroy(&meter);
        double end_s = now_s();
        printf("%.9f %.6f %.6f %.6f %.6f %.9f\n", end_s - start_s, integrated, range, highest_m,
            highest_s, left_peak > right_peak ? left_peak : right_peak);
        fflush(stdout);
    }
    return 0;
}
