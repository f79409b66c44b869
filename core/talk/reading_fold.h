/* SPDX-License-Identifier: Apache-2.0 */
/* One form for each letter: compatibility forms (NFKC) made plain, case folded, accents dropped,
 * digits of every script. */
#ifndef OSIER_CORE_TALK_READING_FOLD_H
#define OSIER_CORE_TALK_READING_FOLD_H

#include <glib.h>
#include <stdbool.h>

enum { FOLD_MAX = 12 }; /* characters that one may become, bounded */

typedef enum {
    FOLD_NOTHING, /* zero-width, direction mark, accent, variation selector, skin tone */
    FOLD_SPACE,
    FOLD_LINE, /* end of line */
    FOLD_LETTER,
    FOLD_DIGIT,
    FOLD_FRACTION, /* one half, three quarters: a character of that meaning */
    FOLD_APOSTROPHE,
    FOLD_PICTURE, /* emoji and other symbols that stand as a word */
    FOLD_MARK     /* punctuation, as ASCII where there is a look-alike */
} FoldKind;

typedef struct {
    FoldKind kind;
    char text[FOLD_MAX * 4 + 1]; /* the folded letters, the picture or the punctuation, UTF-8 */
    int length;                  /* of text, in bytes */
    double value;                /* of a digit (0-10) or a fraction */
} Fold;

/* Folds one character. */
void fold_char(gunichar c, Fold *fold);

/* A word of a language pack folded as texts are, apostrophes kept as '. Caller's to g_free. */
char *fold_word(const char *word);

#endif
