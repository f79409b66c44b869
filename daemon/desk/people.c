/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/desk/people.h"

#include "daemon/desk/person.h"

/* What a few pages of due sessions and one batch of claims need. */
#define KEPT_MAX 512

struct People {
    GHashTable *by_id; /* Person's id to Person */
    int64_t moves;
    int settings_number;
};

static void let_go(void *person)
{
    person_free(person);
}

People *people_new(void)
{
    People *people = g_new0(People, 1);

    people->by_id = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, let_go);
    return people;
}

void people_free(People *people)
{
    if (people == NULL) return;
    g_hash_table_unref(people->by_id);
    g_free(people);
}

void people_begin(People *people, int settings_number)
{
    if (people->settings_number != settings_number) g_hash_table_remove_all(people->by_id);
    people->settings_number = settings_number;
}

static void forget_old(People *people, int64_t moves)
{
    if (people->moves != moves) g_hash_table_remove_all(people->by_id);
    people->moves = moves;
}

Person *people_find(People *people, int64_t moves, const char *client)
{
    forget_old(people, moves);
    Person *person = g_hash_table_lookup(people->by_id, client);
    return person != NULL ? person_ref(person) : NULL;
}

void people_keep(People *people, int64_t moves, Person *person)
{
    forget_old(people, moves);
    if (g_hash_table_size(people->by_id) >= KEPT_MAX) g_hash_table_remove_all(people->by_id);
    g_hash_table_replace(people->by_id, person->id, person_ref(person));
}
