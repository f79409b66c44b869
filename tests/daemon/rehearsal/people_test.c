/* SPDX-License-Identifier: Apache-2.0 */
/* The made-up people: the same seed makes the same days, they sleep at night, they keep to their
 * stories, and osier can read what they write. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/files/packs.h"
#include "core/talk/reading.h"
#include "core/talk/texts.h"
#include "core/talk/wording.h"
#include "daemon/rehearsal/agenda.h"
#include "daemon/rehearsal/likeness.h"
#include "daemon/rehearsal/people.h"
#include "daemon/rehearsal/phrases.h"
#include "daemon/rehearsal/understanding.h"

enum { DAYS = 14 };

static const Persona *persona_named(const char *name)
{
    size_t n;
    const Persona *cast = people(&n);

    for (size_t i = 0; i < n; i++)
        if (strcmp(cast[i].name, name) == 0) return &cast[i];
    fail_msg("nobody is called %s", name);
    return NULL;
}

static Someone someone_of(const Persona *persona, GTimeZone *zone, Day from)
{
    return (Someone){.persona = persona, .language = persona->language, .zone = zone, .from = from};
}

static Day first_day(void)
{
    Day from = 0;

    assert_true(day_parse("2026-03-02", &from));
    return from;
}

/* What a person writes in two weeks of reminders at nine, a line each. */
static char *two_weeks(const Persona *persona, uint64_t seed)
{
    Random *random = random_seeded_new(seed);
    g_autoptr(GTimeZone) zone = g_time_zone_new_utc();
    Someone someone = someone_of(persona, zone, first_day());
    GString *lines = g_string_new(NULL);

    for (int day = 0; day < DAYS; day++) {
        int64_t at_ms = zone_instant(zone, (LocalTime){someone.from + day, 9 * 3600}, NULL);
        Saying *saying = person_hear(&someone, random, "reminder", -1, at_ms);
        if (saying != NULL) {
            int32_t second = zone_local(zone, saying->at_ms).second;
            assert_true(saying->at_ms > at_ms && saying->at_ms < at_ms + DAY_MS);
            assert_true(second >= 7 * 3600 && second < 22 * 3600);
            g_string_append_printf(lines, "%d %" G_GINT64_FORMAT " %s\n", day, saying->at_ms,
                                   saying->text);
        }
        saying_free(saying);
    }
    random_free(random);
    return g_string_free(lines, FALSE);
}

static void the_same_seed_makes_the_same_days(void **state)
{
    size_t n;
    const Persona *cast = people(&n);
    int differ = 0;

    (void)state;
    for (size_t i = 0; i < n; i++) {
        g_autofree char *one = two_weeks(&cast[i], 7);
        g_autofree char *same = two_weeks(&cast[i], 7);
        g_autofree char *other = two_weeks(&cast[i], 8);
        assert_string_equal(one, same);
        differ += strcmp(one, other) != 0;
    }
    assert_true(differ > (int)n / 2);
}

static void stories_are_kept_to(void **state)
{
    g_autofree char *silent = two_weeks(persona_named("Margaret Sewell"), 7);
    g_autofree char *stops = two_weeks(persona_named("Gwen Tattersall"), 7);
    g_autofree char *sign = two_weeks(persona_named("Bernard Achebe"), 7);

    (void)state;
    assert_null(strstr(silent, "\n5 "));
    assert_null(strstr(silent, "\n9 "));
    assert_true(g_str_has_suffix(stops, " STOP\n"));
    assert_non_null(strstr(sign, "left calf is swollen"));
}

static void nothing_is_said_to_what_is_not_understood(void **state)
{
    Random *random = random_seeded_new(7);
    g_autoptr(GTimeZone) zone = g_time_zone_new_utc();
    Someone someone = someone_of(persona_named("Edith Marlow"), zone, first_day());

    (void)state;
    assert_null(person_hear(&someone, random, NULL, -1, 1772438400000));
    assert_null(person_hear(&someone, random, "welcome", -1, 1772438400000));
    random_free(random);
}

/* Numbers are drawn free for drama, addresses at example domains, each id of one person only. */
static void nobody_is_real(void **state)
{
    static const char *const FREE[] = {"+4477009000", "+4477009001", "+4420794601"};
    size_t n;
    const Persona *cast = people(&n);

    (void)state;
    for (size_t i = 0; i < n; i++) {
        bool reserved = false;
        for (size_t k = 0; k < G_N_ELEMENTS(FREE); k++)
            reserved = reserved || g_str_has_prefix(cast[i].phone, FREE[k]);
        assert_true(reserved);
        assert_true(cast[i].email == NULL || g_str_has_suffix(cast[i].email, "@example.net"));
    }
}

static GPtrArray *installed(void)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    GPtrArray *packs = packs_load(NULL, messages);

    assert_int_equal(messages->len, 0);
    return packs;
}

static void people_understand_what_osier_writes(void **state)
{
    g_autoptr(GPtrArray) packs = installed();

    (void)state;
    for (guint i = 0; i < packs->len; i++) {
        g_autoptr(GHashTable) values = likeness_new();
        g_autofree char *high =
            wording(packs->pdata[i], "question-high", "clinic", "Withy Lane", "value", "8", NULL);
        g_autofree char *reminder =
            wording(packs->pdata[i], "reminder", "clinic", "Withy Lane", NULL);
        assert_string_equal(understand(packs, high, values), "question-high");
        assert_string_equal(g_hash_table_lookup(values, "value"), "8");
        assert_string_equal(understand(packs, reminder, values), "reminder");
        assert_null(g_hash_table_lookup(values, "letter"));
        g_autofree char *shared = wording(packs->pdata[i], "reminder-shared", "clinic",
                                          "Withy Lane", "letter", "R", NULL);
        g_autofree char *marked = text_marked('R', shared);
        assert_string_equal(understand(packs, marked, values), "reminder-shared");
        assert_string_equal(g_hash_table_lookup(values, "letter"), "R");
        g_autofree char *moved =
            wording(packs->pdata[i], "resumed", "clinic", "Withy Lane", "clinic_phone", "1", NULL);
        g_autofree char *hers = text_marked('H', moved);
        assert_string_equal(understand(packs, hers, values), "resumed");
        assert_string_equal(g_hash_table_lookup(values, "letter"), "H");
    }
}

/* On a shared phone they begin with the letter that the text had, and now and then they forget it. */
static void who_shares_a_phone_answers_by_letter(void **state)
{
    Random *random = random_seeded_new(7);
    g_autoptr(GTimeZone) zone = g_time_zone_new_utc();
    Someone doreen = someone_of(persona_named("Doreen Hathaway"), zone, first_day());
    int with = 0, without = 0;

    (void)state;
    doreen.letter = 'R';
    for (int day = 0; day < 10 * DAYS; day++) {
        int64_t at_ms = zone_instant(zone, (LocalTime){doreen.from + day, 9 * 3600}, NULL);
        Saying *saying = person_hear(&doreen, random, "reminder-shared", -1, at_ms);
        if (saying == NULL) continue;
        bool has = g_str_has_prefix(saying->text, "R ");
        with += has;
        without += !has;
        saying_free(saying);
    }
    assert_true(with > 5 * without && without > 0);
    random_free(random);
}

static void a_clinician_finds_the_code(void **state)
{
    g_autoptr(GPtrArray) packs = installed();
    g_autoptr(GHashTable) values = likeness_new();
    g_autofree char *text =
        wording(packs_find(packs, "en"), "alert-now", "initials", "A.N.", "client_code", "K7QF2M9T",
                "kind", "pain 8 of 10", "code", "4711", NULL);

    (void)state;
    assert_string_equal(understand(packs, text, values), "alert-now");
    assert_string_equal(g_hash_table_lookup(values, "code"), "4711");
    assert_string_equal(g_hash_table_lookup(values, "client_code"), "K7QF2M9T");
    assert_null(understand(packs, "Hi, is this still Dave?", values));
}

/* Every way to say done or not done in English is read as that, with its numbers. */
static void osier_reads_their_words(void **state)
{
    static const struct {
        Phrase what;
        ReadDone done;
    } READ[] = {{PHRASE_DONE, DONE_YES}, {PHRASE_DONE_PAIN, DONE_YES}, {PHRASE_NOT, DONE_NO}};
    g_autoptr(GPtrArray) packs = installed();
    const Pack *english = packs_find(packs, "en");

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(READ); i++)
        for (guint64 pick = 0; pick < 12; pick++) {
            g_autofree char *text = phrase_fill(phrase("en", READ[i].what, pick), 4, 2);
            g_autoptr(Reading) reading = reply_read(&english, 1, text, strlen(text));
            if (reading->done != READ[i].done) fail_msg("'%s' is read as another", text);
            assert_int_equal(reading->warning, WARNING_NONE);
            if (READ[i].done == DONE_YES) assert_int_equal((int)reading->intensity, 4);
        }
}

/* --- the agenda ----------------------------------------------------------------------------- */

static void note(void *world, void *subject)
{
    g_string_append(world, subject);
}

static void the_agenda_keeps_time_and_order(void **state)
{
    Agenda *agenda = agenda_new();
    g_autoptr(GString) done = g_string_new(NULL);

    (void)state;
    agenda_add(agenda, 20, note, (void *)"c", NULL);
    agenda_add(agenda, 10, note, (void *)"a", NULL);
    agenda_add(agenda, 10, note, (void *)"b", NULL);
    agenda_add(agenda, 30, note, g_strdup("never"), g_free);
    assert_true(agenda_next(agenda) == 10);
    assert_false(agenda_step(agenda, 9, done));
    while (agenda_step(agenda, 25, done))
        continue;
    assert_string_equal(done->str, "abc");
    assert_true(agenda_next(agenda) == 30);
    agenda_free(agenda);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_seed_makes_the_same_days),
        cmocka_unit_test(stories_are_kept_to),
        cmocka_unit_test(nothing_is_said_to_what_is_not_understood),
        cmocka_unit_test(nobody_is_real),
        cmocka_unit_test(people_understand_what_osier_writes),
        cmocka_unit_test(who_shares_a_phone_answers_by_letter),
        cmocka_unit_test(a_clinician_finds_the_code),
        cmocka_unit_test(osier_reads_their_words),
        cmocka_unit_test(the_agenda_keeps_time_and_order),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
