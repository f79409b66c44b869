/* SPDX-License-Identifier: Apache-2.0 */
/* How much of what was asked was done, without blame for silence or for what was never asked. */
#ifndef OSIER_CORE_WATCH_ADHERENCE_H
#define OSIER_CORE_WATCH_ADHERENCE_H

#include <jansson.h>
#include <stdbool.h>

/* Two-sided 95 % of the standard normal distribution. */
#define Z_95 1.959963984540054

/* The Wilson score interval of k in n, without continuity correction: Newcombe RG, Stat Med
 * 1998;17:857-872, method 3. Two-sided 95 %; wilson_at takes the normal quantile z. False, and
 * nothing written, where n is 0 or k is not 0 to n. */
bool wilson(int k, int n, double *low, double *high);
bool wilson_at(int k, int n, double z, double *low, double *high);

/* The past sessions of a time by how they ended; each session is in one. */
typedef struct {
    int done;
    int partly;
    int not ; /* the client said so */
    int silent;
    int unasked;
    int excused;
} SessionCounts;

/* Adds one session by its state; one that has not ended (planned, asked) counts nowhere. */
void session_count(SessionCounts *counts, const char *state);

typedef struct {
    int prescribed; /* the six together */
    int done;
    int partly;
    int not ;
    int silent;
    int unasked;
    int excused;
    int due;       /* prescribed - unasked - excused: what the client was asked for */
    bool has_rate; /* due is not 0; otherwise the figures below mean nothing */
    double rate;   /* done / due */
    double low;    /* Wilson, 95 % */
    double high;
    double bound_low;  /* had no silent session been done: done / due */
    double bound_high; /* had all of them been: (done + silent) / due */
} Adherence;

/* No count is negative. */
Adherence adherence_of(SessionCounts counts);

/* {"prescribed","done","partly","not","silent","unasked","excused","due","rate","low","high","bounds":[a,b]},
 * null where due is 0. The caller's to json_decref. */
json_t *adherence_json(const Adherence *adherence);

#endif
