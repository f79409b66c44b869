/* SPDX-License-Identifier: Apache-2.0 */
/* Texts to numbers while a pack is compiled: looked up by a part of a longer text, and never taken out. */
#ifndef OSIER_CORE_TALK_RULES_NAMES_H
#define OSIER_CORE_TALK_RULES_NAMES_H

#include <glib.h>

typedef struct {
    const char *text; /* lent, NUL-ended */
    guint32 hash;
    guint32 value; /* 0 where the slot is empty */
} Name;

typedef struct {
    Name *slots; /* open addressing, never more than half full */
    guint32 mask;
    guint n;
} Names;

void names_clear(Names *names);

/* The value of a text of that length, or 0. */
guint32 names_get(const Names *names, const char *text, size_t length);

/* The slot of a text, to be taken where its value is 0; it holds until another is asked for. */
Name *names_slot(Names *names, const char *text, size_t length);

/* Takes an empty slot for the text that it was asked for, which must live as long as the table. value: not 0. */
void names_take(Names *names, Name *slot, const char *text, guint32 value);

#endif
