/* SPDX-License-Identifier: Apache-2.0 */
/* A line between osierd and whatever listens on the loopback, in a thread of its own, that can be bad: down, slow, or cut after
 * any byte. */
#ifndef OSIER_TESTS_SUPPORT_ROUGH_LINE_H
#define OSIER_TESTS_SUPPORT_ROUGH_LINE_H

#include <glib.h>
#include <stdbool.h>

typedef struct RoughLine RoughLine;

/* Leads to that port of 127.0.0.1, and is whole at first. */
RoughLine *rough_line_new(int port);
void rough_line_free(RoughLine *line);

/* Where it is entered. */
int rough_line_port(const RoughLine *line);

/* Down: what stands is reset and nothing can be connected to, until it is up again. */
void rough_line_down(RoughLine *line, bool down);

/* From now on each piece of a request, and of an answer, comes so much later; a negative time: never. */
void rough_line_slow(RoughLine *line, int request_ms, int answer_ms);

typedef enum {
    CUT_NONE,
    CUT_CONNECTION, /* as soon as it stands */
    CUT_REQUEST,    /* what was let pass of it reaches the other side */
    CUT_ANSWER
} RoughCut;

/* Cuts the next so many exchanges (times) in the midst, after that many bytes of the request or of the answer, by a reset or by
 * an end. One that is shorter passes whole; one of just so many bytes is cut behind its last. */
void rough_line_cut(RoughLine *line, RoughCut cut, int after, bool reset, int times);

/* So often it was cut. Comes back when the other side has had the last of what was let pass, and has closed. */
int rough_line_cuts(RoughLine *line);

#endif
