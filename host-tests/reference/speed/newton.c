/* The strip of the speed comparison by a plain Newton with the Thomas algorithm: one frame after the other, each
 * started from the solution of the one before. usage: newton EMF_V FRAMES SUPPLIES
 * FRAMES: 432 bytes a frame; SUPPLIES: 144 doubles a frame, what is to be agreed with to 1 uV before timing. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define N 144
#define C 3
#define AGREE_V 1e-6
static const double OFF_V[C] = {1.9, 2.7, 2.7}, FULL_V[C] = {2.3, 3.3, 3.3};
static const double FULL_A = 0.012, DARK_A = 0.0006, DARK_FULL_V = 1.5;
/* Both rails of a pitch together; cell and both leads together. */
static const double PITCH_OHM = 0.012, FEED_OHM = 0.16;

static void law(const unsigned char *level, double v, double *i, double *g) {
    double x = v / DARK_FULL_V;
    *i = DARK_A * (x < 0 ? 0 : x > 1 ? 1 : x);
    *g = x > 0 && x < 1 ? DARK_A / DARK_FULL_V : 0;
    for (int c = 0; c < C; c++) {
        double set = FULL_A * level[c] / 255.0, per_v = 1 / (FULL_V[c] - OFF_V[c]);
        x = (v - OFF_V[c]) * per_v;
        *i += set * (x < 0 ? 0 : x > 1 ? 1 : x);
        if (x > 0 && x < 1) *g += set * per_v;
    }
}

/* Newton from v; the number of steps, or -1. */
static int solve(double emf, const unsigned char *frame, double *v) {
    double diag[N], right[N];
    const double y = 1 / PITCH_OHM, y0 = 1 / FEED_OHM;
    for (int step = 1; step <= 100; step++) {
        for (int k = 0; k < N; k++) {
            double i, g;
            law(frame + C * k, v[k], &i, &g);
            diag[k] = g + (k ? y : y0) + (k < N - 1 ? y : 0);
            right[k] = g * v[k] - i + (k ? 0 : y0 * emf);
        }
        for (int k = 1; k < N; k++) {
            double f = y / diag[k - 1];
            diag[k] -= f * y;
            right[k] += f * right[k - 1];
        }
        double moved = 0, next = 0;
        for (int k = N - 1; k >= 0; k--) {
            next = (right[k] + (k < N - 1 ? y * next : 0)) / diag[k];
            moved = fmax(moved, fabs(next - v[k]));
            v[k] = next;
        }
        if (moved < 1e-9) return step;
    }
    return -1;
}

static void *read_all(const char *path, long *size) {
    FILE *f = fopen(path, "rb");
    if (!f || fseek(f, 0, SEEK_END)) { perror(path); exit(2); }
    *size = ftell(f);
    rewind(f);
    void *data = malloc(*size);
    if (!data || fread(data, 1, *size, f) != (size_t)*size) { perror(path); exit(2); }
    fclose(f);
    return data;
}

static double cpu_s(void) {
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return t.tv_sec + 1e-9 * t.tv_nsec;
}

int main(int argc, char **argv) {
    if (argc != 4) return 2;
    double emf = atof(argv[1]), v[N], worst = 0;
    long bytes, size;
    unsigned char *frames = read_all(argv[2], &bytes);
    double *expected = read_all(argv[3], &size);
    long count = bytes / (C * N), steps = 0;
    for (int k = 0; k < N; k++) v[k] = emf;
    for (long f = 0; f < count; f++) {
        int n = solve(emf, frames + f * C * N, v);
        if (n < 0) { fprintf(stderr, "frame %ld does not settle\n", f); return 1; }
        steps += n;
        for (int k = 0; k < N; k++) worst = fmax(worst, fabs(v[k] - expected[f * N + k]));
    }
    if (!(worst < AGREE_V)) { fprintf(stderr, "off by %g V\n", worst); return 1; }
    double best = INFINITY, begin = cpu_s(), sum = 0;
    while (cpu_s() - begin < 2) {
        double start = cpu_s();
        for (long f = 0; f < count; f++) {
            solve(emf, frames + f * C * N, v);
            sum += v[N - 1];
        }
        best = fmin(best, cpu_s() - start);
    }
    printf("%.0f %.3g %.2f %d\n", count / best, worst, (double)steps / count, sum > 0);
    return 0;
}
