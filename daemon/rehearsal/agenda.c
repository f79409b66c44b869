/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/agenda.h"

typedef struct {
    int64_t at_ms;
    guint64 number;
    AgendaDo *act;
    void *subject;
    GDestroyNotify release;
} Entry;

struct Agenda {
    GSequence *entries;
    guint64 entered;
};

static void entry_free(void *data)
{
    Entry *entry = data;

    if (entry->release != NULL) entry->release(entry->subject);
    g_free(entry);
}

static int by_time(gconstpointer a, gconstpointer b, gpointer unused)
{
    const Entry *left = a, *right = b;

    (void)unused;
    if (left->at_ms != right->at_ms) return left->at_ms < right->at_ms ? -1 : 1;
    return left->number < right->number ? -1 : 1;
}

Agenda *agenda_new(void)
{
    Agenda *agenda = g_new0(Agenda, 1);

    agenda->entries = g_sequence_new(entry_free);
    return agenda;
}

void agenda_free(Agenda *agenda)
{
    if (agenda == NULL) return;
    g_sequence_free(agenda->entries);
    g_free(agenda);
}

void agenda_add(Agenda *agenda, int64_t at_ms, AgendaDo *act, void *subject, GDestroyNotify release)
{
    Entry *entry = g_new0(Entry, 1);

    *entry = (Entry){.at_ms = at_ms,
                     .number = agenda->entered++,
                     .act = act,
                     .subject = subject,
                     .release = release};
    g_sequence_insert_sorted(agenda->entries, entry, by_time, NULL);
}

static Entry *first(const Agenda *agenda)
{
    GSequenceIter *at = g_sequence_get_begin_iter(agenda->entries);

    return g_sequence_iter_is_end(at) ? NULL : g_sequence_get(at);
}

int64_t agenda_next(const Agenda *agenda)
{
    const Entry *entry = first(agenda);

    return entry != NULL ? entry->at_ms : INT64_MAX;
}

bool agenda_step(Agenda *agenda, int64_t now_ms, void *world)
{
    Entry *entry = first(agenda);

    if (entry == NULL || entry->at_ms > now_ms) return false;
    AgendaDo *act = entry->act;
    void *subject = entry->subject;
    GDestroyNotify release = entry->release;
    entry->release = NULL; /* what it does may enter more; the subject is released after it */
    g_sequence_remove(g_sequence_get_begin_iter(agenda->entries));
    act(world, subject);
    if (release != NULL) release(subject);
    return true;
}
