/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/sharers.h"

#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "core/talk/share.h"
#include "daemon/jobs/ahead.h"

#define TOLD_WITHIN_MS (30 * DAY_MS)

/* One who has the number, and since when they are a client. */
typedef struct {
    Person *person;
    Became became;
} Holder;

static void holder_free(void *data)
{
    Holder *holder = data;

    person_free(holder->person);
    g_free(holder);
}

static void sharer_free(void *data)
{
    Sharer *sharer = data;

    person_free(sharer->person);
    g_free(sharer);
}

static int by_age(const void *left, const void *right)
{
    const Holder *one = *(Holder *const *)left, *other = *(Holder *const *)right;

    if (one->became.wall_ms != other->became.wall_ms)
        return one->became.wall_ms < other->became.wall_ms ? -1 : 1;
    if (one->became.logical != other->became.logical)
        return one->became.logical < other->became.logical ? -1 : 1;
    return strcmp(one->person->id, other->person->id);
}

static GPtrArray *holders_of(Job *job, const GPtrArray *contacts)
{
    GPtrArray *holders = g_ptr_array_new_with_free_func(holder_free);

    for (guint i = 0; i < contacts->len; i++) {
        Person *person = person_load(job, row_text(contacts->pdata[i], CONTACT_CLIENT));
        if (person == NULL) continue;
        Holder *holder = g_new0(Holder, 1);
        *holder = (Holder){person, find_became_client(job->tx, person->id)};
        g_ptr_array_add(holders, holder);
    }
    g_ptr_array_sort(holders, by_age);
    return holders;
}

static void give_letters(Job *job, const GPtrArray *holders, char *letters)
{
    g_autofree const char **names = g_new(const char *, holders->len);
    g_autofree const char **offered = g_new(const char *, holders->len);

    for (guint i = 0; i < holders->len; i++) {
        const Person *person = ((Holder *)holders->pdata[i])->person;
        names[i] = person->name;
        offered[i] = pack_share_letters(settings_pack(job->settings, person->language));
    }
    share_letters(names, offered, (int)holders->len, letters);
}

GPtrArray *sharers_of(Job *job, const char *address)
{
    GPtrArray *sharers = g_ptr_array_new_with_free_func(sharer_free);
    g_autoptr(GPtrArray) contacts = find_contacts_by_address(job->tx, address);
    g_autoptr(GPtrArray) holders = holders_of(job, contacts);
    g_autofree char *letters = g_new0(char, holders->len + 1);

    give_letters(job, holders, letters);
    for (guint i = 0; i < holders->len; i++) {
        Sharer *sharer = g_new0(Sharer, 1);
        *sharer = (Sharer){person_ref(((Holder *)holders->pdata[i])->person), letters[i]};
        g_ptr_array_add(sharers, sharer);
    }
    return sharers;
}

int sharers_now(const GPtrArray *sharers)
{
    int n = 0;

    for (guint i = 0; i < sharers->len; i++)
        n += !((const Sharer *)sharers->pdata[i])->person->ended;
    return n;
}

static const Sharer *own(const GPtrArray *sharers, const Person *person)
{
    for (guint i = 0; i < sharers->len; i++) {
        const Sharer *sharer = sharers->pdata[i];
        if (strcmp(sharer->person->id, person->id) == 0) return sharer;
    }
    return NULL;
}

char sharers_letter(Job *job, const Person *person)
{
    const char *number = person->address[CHANNEL_SMS];

    if (number == NULL || !ahead_may_share(job, number)) return 0;
    g_autoptr(GPtrArray) sharers = sharers_of(job, number);
    const Sharer *mine = own(sharers, person);
    return mine != NULL && sharers_now(sharers) > 1 ? mine->letter : 0;
}

const Sharer *sharers_named(const GPtrArray *sharers, const char *text, const char **rest)
{
    char letter = share_letter_of(text, rest);

    for (guint i = 0; letter != 0 && i < sharers->len; i++) {
        const Sharer *sharer = sharers->pdata[i];
        if (sharer->letter == letter) return sharer;
    }
    return NULL;
}

bool sharers_answers(Job *job, const GPtrArray *sharers, const Sharer *named, const char *rest)
{
    g_autoptr(GPtrArray) packs = settings_packs(job->settings, named->person->language);
    g_autoptr(GString) taken = g_string_new(NULL);

    for (guint i = 0; i < sharers->len; i++) {
        const Sharer *sharer = sharers->pdata[i];
        char letter = sharer->letter;
        if (sharer != named && share_names_other(rest, named->person->name, sharer->person->name))
            return false;
        if (letter != 0) g_string_append_c(taken, letter);
    }
    return share_is_answer((const Pack *const *)packs->pdata, (int)packs->len, taken->str, rest);
}

/* The letter that the last text to a client which had one began with, or 0. */
static char last_told(Job *job, const Person *person)
{
    g_autoptr(GPtrArray) sent = find_messages(job->tx, person->id, job->now_ms - TOLD_WITHIN_MS);

    for (guint i = sent->len; i-- > 0;) {
        const char *text = row_text(sent->pdata[i], MESSAGE_TEXT);
        if (text != NULL && g_ascii_isupper(text[0]) && text[1] == ':' && text[2] == ' ')
            return text[0];
    }
    return 0;
}

bool sharers_were_told(Job *job, const GPtrArray *sharers, const Sharer *named)
{
    for (guint i = 0; i < sharers->len; i++) {
        const Sharer *sharer = sharers->pdata[i];
        char told = last_told(job, sharer->person);
        if (sharer == named ? told != 0 && told != named->letter : told == named->letter)
            return false;
    }
    return true;
}

static json_t *letter_json(char letter)
{
    return letter != 0 ? json_stringn(&letter, 1) : json_null();
}

json_t *sharers_json(Job *job, const Person *person)
{
    const char *number = person->address[CHANNEL_SMS];
    g_autoptr(GPtrArray) sharers = sharers_of(job, number != NULL ? number : "");
    const Sharer *mine = own(sharers, person);
    json_t *with = json_array();

    if (mine == NULL || person->ended || sharers_now(sharers) < 2) {
        json_decref(with);
        return NULL;
    }
    for (guint i = 0; i < sharers->len; i++) {
        const Sharer *sharer = sharers->pdata[i];
        if (sharer != mine && !sharer->person->ended)
            json_array_append_new(with, json_pack("{s:s, s:s, s:o}", "client", sharer->person->id,
                                                  "name", sharer->person->name, "letter",
                                                  letter_json(sharer->letter)));
    }
    return json_pack("{s:o, s:o}", "letter", letter_json(mine->letter), "with", with);
}
