/*
 * Compares resamplers on the way from 22,050 to 48,000 samples a second: for sines, the
 * gain in dB and what was added in dB below the sine, and the processor time for 1.5 s.
 *
 *     gcc -O2 compare.c -lsoxr -lsamplerate -lspeexdsp -lm && ./a.out
 *
 * Debian: libsoxr-dev, libsamplerate0-dev, libspeexdsp-dev.
 */
#include <math.h>
#include <samplerate.h>
#include <soxr.h>
#include <speex/speex_resampler.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { FROM = 22050, TO = 48000, N = FROM * 3 / 2, M = TO * 3 / 2 };
static short in[N], out[M + 1000];
static float fin[N], fout[M + 1000];

static int by_soxr(int quality) {
	soxr_io_spec_t io = soxr_io_spec(SOXR_INT16_I, SOXR_INT16_I);
	soxr_quality_spec_t q = soxr_quality_spec(quality, 0);
	size_t done;
	io.flags = SOXR_NO_DITHER;
	soxr_oneshot(FROM, TO, 1, in, N, NULL, out, M, &done, &io, &q, NULL);
	return done;
}

static int by_speex(int quality) {
	SpeexResamplerState *s = speex_resampler_init(1, FROM, TO, quality, NULL);
	spx_uint32_t n = N, m = M;
	speex_resampler_skip_zeros(s);
	speex_resampler_process_int(s, 0, in, &n, out, &m);
	speex_resampler_destroy(s);
	return m;
}

static int by_samplerate(int converter) {
	SRC_DATA d = {.data_in = fin, .data_out = fout, .input_frames = N, .output_frames = M, .src_ratio = (double)TO / FROM, .end_of_input = 1};
	src_short_to_float_array(in, fin, N);
	src_simple(&d, converter, 1);
	src_float_to_short_array(fout, out, d.output_frames_gen);
	return d.output_frames_gen;
}

/* fit takes the sine out by least squares: its amplitude, and the rest's mean. */
static void fit(int n, double hz, double *amplitude, double *rest) {
	double ss = 0, cc = 0, sc = 0, ys = 0, yc = 0, yy = 0;
	for (int i = 4000; i < n - 4000; i++) {
		double s = sin(2 * M_PI * hz * i / TO), c = cos(2 * M_PI * hz * i / TO), y = out[i];
		ss += s * s, cc += c * c, sc += s * c, ys += y * s, yc += y * c, yy += y * y;
	}
	double det = ss * cc - sc * sc, a = (ys * cc - yc * sc) / det, b = (yc * ss - ys * sc) / det;
	*amplitude = hypot(a, b);
	*rest = sqrt(fmax(yy - a * ys - b * yc, 1e-9) / (n - 8000));
}

int main(void) {
	struct { const char *name; int (*run)(int), quality; } ways[] = {
		{"soxr medium", by_soxr, SOXR_MQ}, {"soxr high", by_soxr, SOXR_HQ},
		{"speexdsp 3", by_speex, 3}, {"speexdsp 5", by_speex, 5}, {"speexdsp 10", by_speex, 10},
		{"samplerate fastest", by_samplerate, SRC_SINC_FASTEST},
		{"samplerate medium", by_samplerate, SRC_SINC_MEDIUM_QUALITY},
		{"samplerate best", by_samplerate, SRC_SINC_BEST_QUALITY},
	};
	double hz[] = {100, 1000, 4000, 8000, 9500, 10000, 10500};
	for (unsigned k = 0; k < sizeof ways / sizeof *ways; k++) {
		printf("%-18s", ways[k].name);
		for (unsigned j = 0; j < sizeof hz / sizeof *hz; j++) {
			double a, rest;
			for (int i = 0; i < N; i++) in[i] = lrint(16000 * sin(2 * M_PI * hz[j] * i / FROM));
			fit(ways[k].run(ways[k].quality), hz[j], &a, &rest);
			printf("  %5.0f Hz %6.2f %4.0f", hz[j], 20 * log10(a / 16000), -20 * log10(a / sqrt(2) / rest));
		}
		clock_t start = clock();
		for (int i = 0; i < 100; i++) ways[k].run(ways[k].quality);
		printf("  %.2f ms\n", (clock() - start) * 10.0 / CLOCKS_PER_SEC);
	}
	return 0;
}
