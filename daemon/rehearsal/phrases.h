/* SPDX-License-Identifier: Apache-2.0 */
/* How the people of a rehearsal put it: several ways to say each thing, in their languages. */
#ifndef OSIER_DAEMON_REHEARSAL_PHRASES_H
#define OSIER_DAEMON_REHEARSAL_PHRASES_H

#include <glib.h>

typedef enum {
    PHRASE_DONE,      /* done, no pain */
    PHRASE_DONE_PAIN, /* done, with pain */
    PHRASE_DONE_SOME, /* done, pain without a number */
    PHRASE_PARTLY,
    PHRASE_NOT,
    PHRASE_PAIN,    /* a number, when asked how bad it is */
    PHRASE_STRETCH, /* when asked whether the number was stretch or pain: stretch */
    PHRASE_LATE,    /* done, told at the follow-up */
    PHRASE_LETTER,  /* the letter of the sheet, {l} */
    PHRASE_THANKS,
    PHRASES /* how many there are */
} Phrase;

/* One of the ways, picked by a number; {s} stands for the stretch, {p} for the pain. English where
 * the language ("es") has none. Static. */
const char *phrase(const char *language, Phrase what, guint64 pick);

/* The way with its numbers put in (g_free). */
char *phrase_fill(const char *template, int stretch, int pain);

#endif
