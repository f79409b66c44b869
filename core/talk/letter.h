/* SPDX-License-Identifier: Apache-2.0 */
/* The answer to the weekly check-in: one letter, A to E, of the sheet that the client has at home. */
#ifndef OSIER_CORE_TALK_LETTER_H
#define OSIER_CORE_TALK_LETTER_H

#include <stdbool.h>

typedef enum {
    LETTER_NONE,  /* no letter */
    LETTER_ALONE, /* a letter and no more, "C." */
    LETTER_NAMED, /* a letter after one of the words that name it, "letter C" */
    LETTER_AMONG, /* one letter among few other words, "mostly C" */
    LETTER_UNSURE /* several: a person decides */
} LetterForm;

typedef struct {
    LetterForm form;
    char letter; /* 'A' to 'E'; 0 for LETTER_NONE and LETTER_UNSURE */
    char *rest;  /* the text without the letter and the words that name it; owned */
} Letter;

/* Reads the letter out of a text. words: those that may name it, "letter letters", separated by spaces. Of several letters
 * that are named, E wins, since E may be a sign; otherwise several are LETTER_UNSURE. A letter among other words is never
 * A or D, which are words and answers of their own. Cleared with letter_clear. */
Letter letter_read(const char *words, const char *text);
void letter_clear(Letter *letter);

#endif
