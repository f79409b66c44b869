/* SPDX-License-Identifier: Apache-2.0 */
/* What a reply says, and never more than it says. Pure; the engine holds no word of any language.
 */
#ifndef OSIER_CORE_TALK_READING_H
#define OSIER_CORE_TALK_READING_H

#include "core/talk/pack.h"

#define READ_BARE_LEAST 7 /* a bare number from here on may be pain */

typedef enum { DONE_UNSAID, DONE_YES, DONE_PARTLY, DONE_NO } ReadDone;
typedef enum { PAIN_UNSAID, PAIN_NUMBER, PAIN_SOME } ReadPain;
typedef enum { COMMAND_NONE, COMMAND_STOP, COMMAND_START, COMMAND_HELP } ReadCommand;

/* A text that answers "stretch or pain?" by the word for one, with or without its number. */
typedef enum { ANSWER_NONE, ANSWER_STRETCH, ANSWER_PAIN } ReadAnswer;

/* Graver first. */
typedef enum {
    WARNING_NONE,
    WARNING_CRISIS,
    WARNING_HEART,
    WARNING_STROKE,
    WARNING_CAUDA,
    WARNING_CLOT,
    WARNING_FRACTURE,
    WARNING_NERVE,
    WARNING_FALL
} ReadWarning;

typedef struct {
    ReadDone done;
    double intensity; /* 0 to 10, or -1 where the text gives none */
    ReadPain pain_kind;
    double pain; /* 0 to 10 where pain_kind is PAIN_NUMBER */
    ReadWarning warning;
    ReadWarning
        kin_warning; /* told of one of the family only, and so not the sender's: no warning; or none */
    ReadCommand command;
    bool person;       /* a person should look */
    bool suspend;      /* words of a death, a hospital stay or illness: send nothing until a person
                     settles it */
    bool death;        /* they are of a death, whoever died: nothing is answered either */
    bool away;         /* wants no texts for a while, or will be away */
    bool wrong_number; /* whoever wrote is not the client, and has the client's address */
    bool own_sign; /* the warning sign is told by the one who has it, of now: not of whoever died */
    bool ambiguous_high; /* a bare number of READ_BARE_LEAST or more that may be stretch or pain */
    bool bare_command;   /* the whole text is one command keyword */
    /* of the sheet at home, where the text answered a check-in; else 0. Not set by reply_read */
    char letter;
    bool denies;   /* somewhere it says no, or not */
    bool unclear;  /* it may be a report, and none was read: to be asked back */
    bool by_order; /* two bare numbers: the second was taken for the pain */
    ReadAnswer answer;
    char *language; /* tag of the pack that read it */
    char *rest;     /* words that no rule read, or NULL */
    char *from_done;
    char *from_intensity;
    char *from_pain;
    char *from_warning;
    char *from_kin_warning;
    char *from_suspend;
    char *from_wrong_number; /* the words each was read from, or NULL */
} Reading;

/* Reads one reply. packs: the client's language first, n at least 1. text: UTF-8, not necessarily
 * valid or NUL-free (length in bytes), any length; only the first 16 kB of what the client wrote
 * are read. quoted mail, signatures and reactions are cut first. Linear time. Never NULL; freed
 * with reading_free. */
Reading *reply_read(const Pack *const *packs, int n, const char *text, size_t length);
void reading_free(Reading *reading);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Reading, reading_free)

/* The names of the outward contract: "yes", "partly", "no"; "crisis" ... "fall"; "stop", "start",
 * "help"; NULL for none. */
const char *read_done_name(ReadDone done);
const char *read_warning_name(ReadWarning warning);
const char *read_command_name(ReadCommand command);

/* The reading as the JSON document of `osier read --json` (new reference). */
json_t *reading_json(const Reading *reading);

#endif
