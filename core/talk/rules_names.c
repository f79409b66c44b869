/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/rules_names.h"

#include <string.h>

#include "core/talk/rules_grammar.h"

void names_clear(Names *names)
{
    g_free(names->slots);
    *names = (Names){0};
}

/* The slot of a text, or the empty one where it would stand. */
static Name *slot_of(const Names *names, guint32 hash, const char *text, size_t length)
{
    for (guint32 at = hash & names->mask;; at = (at + 1) & names->mask) {
        Name *name = &names->slots[at];
        if (name->value == 0) return name;
        if (name->hash == hash && strncmp(name->text, text, length) == 0 &&
            name->text[length] == '\0')
            return name;
    }
}

guint32 names_get(const Names *names, const char *text, size_t length)
{
    if (names->n == 0) return 0;
    return slot_of(names, rules_hash(text, (int)length), text, length)->value;
}

static void grow(Names *names)
{
    Names larger = {.mask = rules_slots(names->n + 1) - 1, .n = names->n};

    larger.slots = g_new0(Name, larger.mask + 1);
    for (guint32 i = 0; names->n > 0 && i <= names->mask; i++) {
        const Name *name = &names->slots[i];
        if (name->value != 0) *slot_of(&larger, name->hash, name->text, strlen(name->text)) = *name;
    }
    names_clear(names);
    *names = larger;
}

Name *names_slot(Names *names, const char *text, size_t length)
{
    guint32 hash = rules_hash(text, (int)length);

    if (names->n * 2 >= names->mask) grow(names);
    Name *slot = slot_of(names, hash, text, length);
    slot->hash = hash;
    return slot;
}

void names_take(Names *names, Name *slot, const char *text, guint32 value)
{
    slot->text = text;
    slot->value = value;
    names->n++;
}
