/* SPDX-License-Identifier: Apache-2.0 */
/* A gateway that posts replies to a webhook, in a process of its own: libcurl's multi interface, 64 kept connections. */
#ifndef OSIER_TESTS_BENCH_POSTER_H
#define OSIER_TESTS_BENCH_POSTER_H

#include <sys/types.h>

enum { POSTER_AT_ONCE = 64 };

typedef struct {
    pid_t process;
    int orders; /* the pipe to it */
    int heard;  /* the pipe from it: readable once an order is done */
} Poster;

/* What to post: replies number first to first + count - 1, each from a client of its own (+4477 and the number). */
typedef struct {
    char url[64];
    int first;
    int count;
    int a_second; /* 0: as fast as they are answered */
} PosterOrder;

typedef struct {
    double took_s;             /* from the first post to the last answer */
    double middle_ms, slow_ms; /* from post to answer: median, and 99 of 100 are at most that */
    int refused;               /* answered with anything but 200, or not at all */
} PosterHeard;

/* Starts the process: before anything else opens what a child should not have. */
void poster_start(Poster *poster);
void poster_stop(Poster *poster);

void poster_order(const Poster *poster, const PosterOrder *order);

/* Waits for the end of the order. */
PosterHeard poster_heard(const Poster *poster);

#endif
