/* An effect engine of one's own in C: a glow that a press lights and puts out, and that a knock makes flare.
   Invented for the demonstration. It reads the lines that harness/OWN_ENGINE.md describes and writes raw frames.
       cc -O2 -o ember traces/own-engine/ember.c
       lampwright check traces/lantern-staff --engine ./ember */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int main(void)
{
    char line[128], cue[32];
    unsigned pixels = 0, channels = 0, at = 0, last = 0, lit = 0;
    double value = 0, glow = 0, flare = 0; /* shares of full light */
    unsigned char *frame = NULL;

    while (fgets(line, sizeof line, stdin)) {
        if (sscanf(line, "start 1 %u %u", &pixels, &channels) == 2) {
            frame = calloc(pixels, channels);
        } else if (sscanf(line, "cue %u %31s %lf", &at, cue, &value) >= 2) {
            if (!strcmp(cue, "short-press"))
                lit = !lit;
            if (!strcmp(cue, "knock") && lit)
                flare = value;
        } else if (sscanf(line, "frame %u", &at) == 1 && frame) {
            double s = (at - last) / 1000.0; /* since the frame before */
            glow += lit ? s / 0.4 : -s / 0.8;
            glow = glow < 0 ? 0 : glow > 1 ? 1 : glow;
            flare = flare > s / 0.5 ? flare - s / 0.5 : 0;
            for (unsigned p = 0; p < pixels; p++) {
                double level = glow * (0.3 + 0.7 * flare) * (1.0 - 0.5 * p / pixels);
                frame[p * channels] = (unsigned char)(255 * level);
                frame[p * channels + 1] = (unsigned char)(110 * level);
                frame[p * channels + 2] = (unsigned char)(12 * level);
            }
            fwrite(frame, channels, pixels, stdout);
            last = at;
        }
    }
    return fflush(stdout) || ferror(stdout);
}
