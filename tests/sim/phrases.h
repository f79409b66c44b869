/* SPDX-License-Identifier: Apache-2.0 */
/* What the clients of a simulated clinic write, in words that leave no doubt, and what each must
 * lead to by the rules. */
#ifndef OSIER_TESTS_SIM_PHRASES_H
#define OSIER_TESTS_SIM_PHRASES_H

#include <stdbool.h>

#include "daemon/random.h"

typedef enum {
    SAYS_DONE,
    SAYS_NOT,
    SAYS_PARTLY,
    SAYS_PAIN,    /* done, with a pain number */
    SAYS_SOME,    /* hurts, without a number */
    SAYS_NUMBER,  /* a bare number of 7 or more */
    SAYS_WARNING, /* a warning sign */
    SAYS_STOP,
    SAYS_START,
    SAYS_HELP,
    SAYS_SUSPEND, /* hospital, illness */
    SAYS_DEATH,   /* whoever died */
    SAYS_WRONG,   /* somebody else has the number */
    SAYS_ODD,     /* questions, thanks, noise */
    SAYS_TAKE,    /* a clinician's code */
    SAYS_COUNT
} Says;

typedef struct {
    Says says;
    const char *text;
    const char *warning; /* SAYS_WARNING: the alert's kind */
    int pain;            /* SAYS_PAIN */
} Phrase;

/* One of the phrases of that kind; not of SAYS_TAKE. */
const Phrase *phrase_draw(Random *random, Says says);

/* The phrase that is this text, or NULL. */
const Phrase *phrase_of(const char *text);

/* Must such a sign be called at any hour? */
bool phrase_is_now(const Phrase *phrase);

const char *says_name(Says says);

#endif
