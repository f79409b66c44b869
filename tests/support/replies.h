/* SPDX-License-Identifier: Apache-2.0 */
/* Labelled replies, and how far a reading of them agrees with their labels. */
#ifndef OSIER_TESTS_SUPPORT_REPLIES_H
#define OSIER_TESTS_SUPPORT_REPLIES_H

#include <stdbool.h>

#include <glib.h>

#include "core/talk/reading.h"

typedef enum {
    REPLY_DONE,
    REPLY_INTENSITY,
    REPLY_PAIN,
    REPLY_WARNING,
    REPLY_COMMAND,
    REPLY_PERSON,
    REPLY_FIELDS
} ReplyField;

enum { REPLY_SIGNS = 9 }; /* the eight warning signs, and none in the last place */

/* One reply and what it says, each value written as `osier read --json` writes it: yes, 4.5, null.
 */
typedef struct {
    char *id;
    char *text; /* real line breaks */
    char *want[REPLY_FIELDS];
} LabelledReply;

/* The replies of one file, en-dev.tsv: "en", and kept where its name says so. */
typedef struct {
    char *name;
    char *language;
    bool kept;
    GPtrArray *lines; /* of LabelledReply */
} ReplyCorpus;

/* What reading a corpus gave. Counts of lines. */
typedef struct {
    int lines;
    int right[REPLY_FIELDS];
    int invented;    /* a number read that is not the label's and does not stand in the text */
    int signs;       /* lines labelled with a warning sign */
    int found;       /* of those, read with a warning sign, of whichever kind */
    int false_flags; /* lines without a sign that were read with one */
    int unnetted;    /* signs missed with person false and no words left over */
    int confusion[REPLY_SIGNS][REPLY_SIGNS]; /* label by reading */
} ReplyTally;

/* Told of every line that was not read as labelled: got holds all six values, unnetted and invented
 * what weighs. */
typedef void ReplyWrong(const LabelledReply *reply, const char *const got[REPLY_FIELDS],
                        bool invented, bool unnetted, void *data);

/* Reads a file of labelled replies. On a fault NULL, and *fault says where and what; the caller
 * frees both. */
ReplyCorpus *replies_load(const char *path, char **fault);
void replies_free(ReplyCorpus *corpus);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(ReplyCorpus, replies_free)

/* Reads every line as the daemon does, the corpus's language before the other packs (an array of
 * Pack). wrong may be NULL. False where no pack of its language is there. */
bool replies_measure(const ReplyCorpus *corpus, const GPtrArray *packs, ReplyTally *tally,
                     ReplyWrong *wrong, void *data);

/* The reading of a text by a client of that language: its pack first, then the others (reading_free). */
Reading *replies_read_as(const GPtrArray *packs, const char *language, const char *text);

/* "done", "intensity"… and "crisis"… "null". */
const char *replies_field(ReplyField field);
const char *replies_sign(int sign);

/* Whether a number between 0 and 10 stands in the text, in digits of any script or as a word of one
 * of the languages that the corpora are in. */
bool replies_number_stands(const char *text, double number);

#endif
