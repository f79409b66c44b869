/* SPDX-License-Identifier: Apache-2.0 */
/* The limit that osier is measured against: libcurl's multi interface alone, 32 requests at once, nothing written down. */
#ifndef OSIER_TESTS_BENCH_BARE_H
#define OSIER_TESTS_BENCH_BARE_H

typedef struct {
    const char *url;
    int left;
    int failed;
} BareRun;

/* A FigureRun; context is a BareRun. */
void bare_run(int count, void *context);

#endif
