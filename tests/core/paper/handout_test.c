/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/paper/handout.h"
#include "core/paper/words.h"
#include "core/talk/reading.h"
#include "tests/support/handouts.h"
#include "tests/support/language.h"
#include "tests/support/programmes.h"

static const char *const LANGUAGES[] = {"en", "es", "fr"};

/* All that stands on the sheet, a line for each text (g_free). */
static char *text_of(const Paper *sheet)
{
    GString *out = g_string_new(NULL);

    for (guint i = 0; i < sheet->blocks->len; i++) {
        const Block *block = sheet->blocks->pdata[i];
        if (block->mark != NULL) g_string_append_printf(out, "%s ", block->mark);
        if (block->text != NULL) g_string_append_printf(out, "%s\n", block->text);
    }
    g_string_append(out, sheet->footer);
    return g_string_free(out, FALSE);
}

static void has(const char *text, const char *part)
{
    if (strstr(text, part) == NULL) fail_msg("'%s' is not in:\n%s", part, text);
}

static Paper *sheet_for(const Pack *pack, const Programme *programme, const char *stage_key,
                        Channel channel, const char *side)
{
    return handout_made(pack, programme, programme_stage(programme, stage_key),
                        &(HandoutWish){.channel = channel, .side = side});
}

/* What a client must find: every movement in order, how to get in and out, every caution, every
 * letter, whom to ring, the number that the texts come from. */
static void everything_is_there_in_each_language(void **state)
{
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);

    (void)state;
    for (size_t l = 0; l < G_N_ELEMENTS(LANGUAGES); l++) {
        g_autoptr(Pack) pack = language_pack(LANGUAGES[l]);
        for (int s = 0; s < programme_stages(programme); s++) {
            const Stage *stage = programme_stage_at(programme, s);
            g_autoptr(Paper) sheet = sheet_for(pack, programme, stage->key, CHANNEL_SMS, "both");
            g_autofree char *text = text_of(sheet);
            const char *at = text;
            for (guint i = 0; i < stage->movements->len; i++) {
                const Movement *movement = stage->movements->pdata[i];
                at = strstr(at, pack_programme_text(pack, movement->title));
                assert_non_null(at);
                has(at, pack_programme_text(pack, movement->getting_in));
                has(at, pack_programme_text(pack, movement->doing));
                has(at, pack_programme_text(pack, movement->feel));
                has(at, pack_programme_text(pack, movement->getting_out));
            }
            for (guint i = 0; i < programme->cautions->len; i++)
                has(text, pack_programme_text(pack, programme->cautions->pdata[i]));
            has(text, pack_programme_text(pack, programme->beside));
            for (guint i = 0; i < programme->check_in->len; i++) {
                const CheckIn *letter = programme->check_in->pdata[i];
                has(text, pack_programme_text(pack, letter->text));
            }
            has(text, "+44\u00a020\u00a07946\u00a00100");
            has(text, "+44\u00a020\u00a07946\u00a00199");
            has(text, "+44\u00a020\u00a07946\u00a00150");
            has(text, "999");
            has(text, "08:30");
            has(text, "Ada Nightingale");
            assert_null(strchr(text, '{'));
            assert_true(sheet->size_pt == 16);
        }
    }
}

/* A client who answers as the sheet says is understood. */
static void the_example_is_read_as_the_sheet_says(void **state)
{
    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(LANGUAGES); i++) {
        g_autoptr(Pack) pack = language_pack(LANGUAGES[i]);
        const Pack *packs[] = {pack};
        const char *example = pack_text(pack, "paper-answers-example");
        g_autoptr(Reading) reading = reply_read(packs, 1, example, strlen(example));
        assert_int_equal(reading->done, DONE_YES);
        assert_true(reading->intensity == 4);
        assert_int_equal(reading->pain_kind, PAIN_NUMBER);
        assert_true(reading->pain == 0);
        assert_false(reading->person);
    }
}

/* On a phone that others use as well the example begins with the client's letter, and it is said why. */
static void a_shared_phone_has_its_letter(void **state)
{
    static const char *const EXAMPLES[] = {"R D 4 P0\n", "R SI 4 0\n", "R OUI 4 0\n"};
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(LANGUAGES); i++) {
        g_autoptr(Pack) pack = language_pack(LANGUAGES[i]);
        const HandoutWish wish = {.channel = CHANNEL_SMS, .side = "both", .sharer = 'R'};
        g_autoptr(Paper) own = sheet_for(pack, programme, "calf-with-strap", CHANNEL_SMS, "both");
        g_autoptr(Paper) shared =
            handout_made(pack, programme, programme_stage(programme, "calf-with-strap"), &wish);
        g_autofree char *alone = text_of(own), *with = text_of(shared);
        has(with, EXAMPLES[i]);
        assert_null(strstr(alone, EXAMPLES[i]));
        assert_true(strlen(with) > strlen(alone) + 60);
    }
}

static void is_other(const Pack *pack, const char *text)
{
    if (strcmp(pack_programme_text(pack, text), text) == 0)
        fail_msg("%s: not in the pack: %s", pack_language(pack), text);
}

static void are_other(const Pack *pack, const GPtrArray *texts)
{
    for (guint i = 0; i < texts->len; i++)
        is_other(pack, texts->pdata[i]);
}

/* Nothing of the first programme reaches a client of another language in English. */
static void the_first_programme_is_there_in_each_language(void **state)
{
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);

    (void)state;
    for (size_t l = 1; l < G_N_ELEMENTS(LANGUAGES); l++) {
        g_autoptr(Pack) pack = language_pack(LANGUAGES[l]);
        are_other(pack, programme->cautions);
        is_other(pack, programme->beside);
        for (guint i = 0; i < programme->measures->len; i++)
            is_other(pack, ((const Measure *)programme->measures->pdata[i])->title);
        for (int s = 0; s < programme_stages(programme); s++)
            is_other(pack, programme_stage_at(programme, s)->title);
        for (int s = 0; s < programme_stages(programme); s++) {
            const GPtrArray *movements = programme_stage_at(programme, s)->movements;
            for (guint i = 0; i < movements->len; i++) {
                const Movement *movement = movements->pdata[i];
                is_other(pack, movement->title);
                is_other(pack, movement->position);
                is_other(pack, movement->getting_in);
                is_other(pack, movement->doing);
                is_other(pack, movement->feel);
                is_other(pack, movement->getting_out);
                are_other(pack, movement->cues);
                are_other(pack, movement->avoid);
            }
        }
        for (guint i = 0; i < programme->setups->len; i++) {
            const Setup *setup = programme->setups->pdata[i];
            is_other(pack, setup->title);
            is_other(pack, setup->how);
            is_other(pack, setup->caution);
        }
    }
}

static void whoever_is_rung_gets_no_letters(void **state)
{
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);
    g_autoptr(Pack) pack = language_pack("en");
    g_autoptr(Paper) sheet = sheet_for(pack, programme, "ankle-pumping", CHANNEL_PHONE, "both");
    g_autofree char *text = text_of(sheet);

    (void)state;
    has(text, "We ring you");
    assert_null(strstr(text, "LETTER"));
    assert_null(strstr(text, "D 4 P0"));
}

static void one_side_is_named(void **state)
{
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);
    g_autoptr(Pack) pack = language_pack("en");
    g_autoptr(Paper) sheet = sheet_for(pack, programme, "lower-hamstring", CHANNEL_SMS, "left");
    g_autofree char *text = text_of(sheet);

    (void)state;
    has(text, "On the left side only.");
    assert_null(strstr(text, "One side, then the other"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(everything_is_there_in_each_language),
        cmocka_unit_test(the_example_is_read_as_the_sheet_says),
        cmocka_unit_test(a_shared_phone_has_its_letter),
        cmocka_unit_test(the_first_programme_is_there_in_each_language),
        cmocka_unit_test(whoever_is_rung_gets_no_letters),
        cmocka_unit_test(one_side_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
