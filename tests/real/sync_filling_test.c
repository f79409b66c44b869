/* SPDX-License-Identifier: Apache-2.0 */
/* A new replica takes in what the others have, says how far it is, and does not send before it has all of it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/replicas.h"
#include "tests/support/rogue.h"

#define MORNING INT64_C(1772442000000) /* of REPLICAS_MONDAY */
#define OTHER "00000000000000aa"
#define CLIENTS 40
#define PARCELS 4

typedef struct {
    Site *box;
    int port;
    Rogue *other; /* a peer that the test plays */
} Filling;

static Filling *filling_new(void)
{
    Filling *filling = g_new0(Filling, 1);

    filling->port = site_free_port();
    filling->box = replica_new("box", 11, filling->port);
    filling->other = rogue_new(OTHER);
    assert_int_equal(site_start(filling->box, REPLICAS_MONDAY), 0);
    g_autofree char *code = replica_code(filling->box);
    assert_int_equal(rogue_meets(filling->other, filling->port, code, REPLICAS_CLINIC), 200);
    return filling;
}

static void filling_free(Filling *filling)
{
    rogue_free(filling->other);
    g_free(filling);
}

static void visit(Filling *filling, Parcel *parcel)
{
    long status;

    parcel_free(rogue_visits(filling->other, filling->port, parcel, &status));
    assert_int_equal(status, 200);
}

static void write_one(Filling *filling, Parcel *parcel, const char *kind, const char *subject,
                      const char *body)
{
    rogue_writes(filling->other, parcel, MORNING + filling->other->seq, kind, subject, body);
}

/* Clients, and what was heard of each again and again: as much as a parcel holds. */
static Parcel *write_many(Filling *filling, int parcel_number)
{
    Parcel *parcel = parcel_new(OTHER, MORNING);

    for (int i = 0; (int)parcel->events->len < PARCEL_EVENTS_MAX; i++) {
        g_autofree char *client = g_strdup_printf("AAAAAA%02d", i % CLIENTS);
        g_autofree char *name = g_strdup_printf("{\"fields\":{\"name\":\"Ada %d\"}}", i);
        g_autofree char *report =
            g_strdup_printf("{\"at\":%" G_GINT64_FORMAT ",\"done\":\"yes\",\"session\":\"%032x\"}",
                            MORNING + i, parcel_number * 1000000 + i / 3);
        if (i < CLIENTS)
            write_one(filling, parcel, "client.set", client, name);
        else
            write_one(filling, parcel, "report.made", client, report);
    }
    return parcel;
}

static void status_says(Site *site, const char *words)
{
    g_autofree char *told = site_told(site, "sync status");

    if (strstr(told, words) == NULL) fail_msg("\"%s\" is not in: %s", words, told);
}

static void a_new_laptop_takes_in_thousands_of_entries(void **state)
{
    Filling *filling = filling_new();
    Site *laptop = replica_new("laptop", 12, 0);

    (void)state;
    for (int i = 0; i < PARCELS; i++)
        visit(filling, write_many(filling, i));
    assert_int_equal(site_start(laptop, REPLICAS_MONDAY), 0);
    replica_pair(laptop, filling->box, filling->port);
    g_autofree char *entered = replica_client(laptop, "Bo T.", 2);
    replica_visit(laptop);
    replicas_alike(filling->box, laptop, "client list");
    assert_int_equal(replica_count(laptop, "client list"), CLIENTS + 1);
    json_t *status = site_ask(laptop, "sync status");
    int64_t here = json_integer_value(json_object_get(status, "entries"));
    assert_true(here > (int64_t)PARCELS * PARCEL_EVENTS_MAX);
    assert_int_equal(json_integer_value(json_object_get(status, "entries_known")), here);
    json_decref(status);
    replicas_end(filling->box, laptop);
    filling_free(filling);
}

static void who_lacks_entries_sends_only_when_told_to_even_so(void **state)
{
    Filling *filling = filling_new();
    Parcel *parcel = parcel_new(OTHER, MORNING);

    (void)state;
    write_one(filling, parcel, "sender.taken", "clinic",
              "{\"replica\":\"" OTHER "\",\"epoch\":2,\"by\":\"R. Okafor\"}");
    /* three thousand more are to come, and the line is cut */
    for (guint i = 0; i < parcel->vector->len; i++)
        g_array_index(parcel->vector, VectorEntry, i).seq += 3000;
    visit(filling, parcel);
    status_says(filling->box, "filling: ");
    status_says(filling->box, "what is here can be used");
    site_fails(filling->box, 75, "entries are here", "sender take --by 'R. Okafor'");
    site_fails(filling->box, 75, "--even-so", "sender take --by 'R. Okafor'");
    json_t *before = site_ask(filling->box, "sender show");
    assert_false(json_is_true(json_object_get(before, "here")));
    json_decref(before);
    json_t *taken = site_ask(filling->box, "sender take --by 'R. Okafor' --even-so");
    assert_true(json_is_true(json_object_get(taken, "here")));
    json_decref(taken);
    site_free(filling->box);
    filling_free(filling);
}

static void who_has_heard_nothing_yet_sends_only_when_told_to_even_so(void **state)
{
    int port = site_free_port();
    Site *box = replica_new("box", 11, port), *laptop = replica_new("laptop", 12, 0);

    (void)state;
    assert_int_equal(site_start(box, REPLICAS_MONDAY), 0);
    assert_int_equal(site_start(laptop, REPLICAS_MONDAY), 0);
    replica_pair(laptop, box, port);
    assert_int_equal(site_stop(box), 0);
    site_fails(laptop, 75, "nothing has come", "sender take --by 'R. Okafor'");
    json_decref(site_ask(laptop, "sender take --by 'R. Okafor' --even-so"));
    site_free(laptop);
    site_free(box);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_new_laptop_takes_in_thousands_of_entries),
        cmocka_unit_test(who_lacks_entries_sends_only_when_told_to_even_so),
        cmocka_unit_test(who_has_heard_nothing_yet_sends_only_when_told_to_even_so),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
