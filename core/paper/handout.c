/* SPDX-License-Identifier: Apache-2.0 */
#include "core/paper/handout.h"

#include "core/paper/words.h"
#include "core/talk/wording.h"

#define PICTURE_PART 0.6

typedef struct {
    const Pack *pack;
    const HandoutAsk *ask;
    Paper *sheet;
} Desk;

/* A text of the pack with what every part of the sheet may name. */
static char *say(const Desk *desk, const char *key)
{
    const Clinic *clinic = desk->ask->clinic;
    g_autofree char *phone = wording_phone(clinic->phone);
    g_autofree char *after = wording_phone(
        clinic->after_hours_phone != NULL ? clinic->after_hours_phone : clinic->phone);
    g_autofree char *number = wording_phone(desk->ask->number != NULL ? desk->ask->number : "");
    g_autofree char *name = wording_name(desk->ask->name);

    return wording(desk->pack, key, "clinic", clinic->name, "clinic_phone", phone,
                   "after_hours_phone", after, "emergency", clinic->emergency, "number", number,
                   "name", name, NULL);
}

static void add(const Desk *desk, BlockKind kind, const char *key)
{
    g_autofree char *text = say(desk, key);

    paper_add(desk->sheet, kind, text);
}

static void add_item(const Desk *desk, const char *mark, const char *key)
{
    g_autofree char *text = say(desk, key);

    paper_mark(desk->sheet, BLOCK_ITEM, mark, text);
}

/* What the programme says, in the sheet's language. */
static const char *told(const Desk *desk, const char *text)
{
    return pack_programme_text(desk->pack, text);
}

static void add_items(const Desk *desk, const char *label, const char *mark, const GPtrArray *texts)
{
    if (texts == NULL || texts->len == 0) return;
    add(desk, BLOCK_LABEL, label);
    for (guint i = 0; i < texts->len; i++)
        paper_mark(desk->sheet, BLOCK_ITEM, mark, told(desk, texts->pdata[i]));
}

static void add_labelled(const Desk *desk, const char *label, const char *text)
{
    if (text == NULL || *text == '\0') return;
    add(desk, BLOCK_LABEL, label);
    paper_add(desk->sheet, BLOCK_TEXT, text);
}

/* --- the head ------------------------------------------------------------------------------------ */

/* "08:30 and 18:30" */
static char *times_of(const Desk *desk)
{
    g_autofree char *and_word = wording(desk->pack, "paper-and", NULL);
    GString *out = g_string_new(NULL);

    for (int i = 0; i < desk->ask->n_times; i++) {
        int second = desk->ask->times[i];
        if (i > 0 && i == desk->ask->n_times - 1)
            g_string_append_printf(out, " %s ", and_word);
        else if (i > 0)
            g_string_append(out, ", ");
        g_string_append_printf(out, "%02d:%02d", second / 3600, second / 60 % 60);
    }
    return g_string_free(out, FALSE);
}

static void add_head(const Desk *desk)
{
    const HandoutAsk *ask = desk->ask;
    g_autofree char *day = wording_day(desk->pack, ask->day);
    g_autofree char *name = say(desk, "paper-for");
    g_autofree char *line = g_strdup_printf("%s  ·  %s  ·  %s", name, day, ask->clinic->name);
    g_autofree char *times = times_of(desk);
    g_autofree char *days = g_strdup_printf("%d", ask->days_a_week);
    g_autofree char *when =
        wording(desk->pack, ask->days_a_week >= 7 ? "paper-every-day" : "paper-days", "value", days,
                "time", times, NULL);

    add(desk, BLOCK_TITLE, "paper-handout");
    paper_add(desk->sheet, BLOCK_SMALL, line);
    paper_add(desk->sheet, BLOCK_TEXT, when);
    add(desk, BLOCK_BOX, "paper-stop-short");
}

/* --- a movement ---------------------------------------------------------------------------------- */

static char *dose_of(const Desk *desk, const Movement *movement)
{
    Dose dose = dose_changed(&movement->dose, desk->ask->change, NULL);
    const char *side = desk->ask->side;
    bool one_side = dose.each_side && side != NULL && strcmp(side, "both") != 0;

    if (desk->ask->one_dose_lower) dose = dose_lower(&dose);
    if (one_side) dose.each_side = false;
    g_autofree char *words = paper_dose(desk->pack, &dose, &movement->relaxed);
    if (!one_side) return g_steal_pointer(&words);
    g_autofree char *which = wording(
        desk->pack, strcmp(side, "left") == 0 ? "paper-dose-left" : "paper-dose-right", NULL);
    return g_strdup_printf("%s %s", which, words);
}

/* Where there is a set-up it tells the position; a movement without one tells its own. */
static void add_place(const Desk *desk, const HandoutMovement *at)
{
    if (at->barred) {
        add(desk, BLOCK_BOX, "paper-no-set-up");
        return;
    }
    if (at->setup == NULL) {
        add_labelled(desk, "paper-position", told(desk, at->movement->position));
        return;
    }
    g_autofree char *how =
        g_strdup_printf("%s. %s", told(desk, at->setup->title), told(desk, at->setup->how));
    add_labelled(desk, "paper-set-up", how);
    paper_mark(desk->sheet, BLOCK_ITEM, "!", told(desk, at->setup->caution));
}

static void add_movement(const Desk *desk, HandoutMovement *at, int number)
{
    const Movement *movement = at->movement;
    g_autofree char *heading = desk->ask->n_movements > 1
                                   ? g_strdup_printf("%d.  %s", number, told(desk, movement->title))
                                   : g_strdup(told(desk, movement->title));
    g_autofree char *dose = dose_of(desk, movement);

    if (number > 1) paper_add(desk->sheet, BLOCK_PAGE, NULL);
    paper_add(desk->sheet, BLOCK_HEADING, heading);
    if (at->picture != NULL) {
        g_autofree char *caption = g_strdup(at->picture->caption);
        paper_picture(desk->sheet, g_steal_pointer(&at->picture), PICTURE_PART);
        paper_add(desk->sheet, BLOCK_TEXT, caption);
    }
    add_place(desk, at);
    add_labelled(desk, "paper-getting-in", told(desk, movement->getting_in));
    add_labelled(desk, "paper-do", told(desk, movement->doing));
    add_labelled(desk, "paper-how-much", dose);
    if (desk->ask->one_dose_lower) add(desk, BLOCK_SMALL, "paper-dose-lower");
    add_labelled(desk, "paper-feel", told(desk, movement->feel));
    add_items(desk, "paper-cues", "•", movement->cues);
    add_items(desk, "paper-avoid", "✗", movement->avoid);
    add_labelled(desk, "paper-getting-out", told(desk, movement->getting_out));
}

/* --- what goes for all of it --------------------------------------------------------------------- */

static void add_strong(const Desk *desk)
{
    paper_add(desk->sheet, BLOCK_PAGE, NULL);
    add(desk, BLOCK_HEADING, "paper-strong");
    add(desk, BLOCK_TEXT, "paper-strong-text");
    paper_add(desk->sheet, BLOCK_TEXT, told(desk, desk->ask->programme->beside));
}

static void add_stop(const Desk *desk)
{
    const Clinic *clinic = desk->ask->clinic;

    add(desk, BLOCK_HEADING, "paper-stop");
    for (guint i = 0; i < desk->ask->programme->cautions->len; i++)
        paper_mark(desk->sheet, BLOCK_ITEM, "!",
                   told(desk, desk->ask->programme->cautions->pdata[i]));
    add(desk, BLOCK_BOX, clinic->after_hours_phone != NULL ? "paper-ring-after" : "paper-ring");
}

static void add_letters(const Desk *desk)
{
    const GPtrArray *letters = desk->ask->programme->check_in;
    bool clinician = false;

    if (letters == NULL || letters->len == 0 || desk->ask->channel == CHANNEL_PHONE) return;
    paper_add(desk->sheet, BLOCK_PAGE, NULL);
    add(desk, BLOCK_HEADING, "paper-letters");
    add(desk, BLOCK_TEXT, "paper-letters-text");
    for (guint i = 0; i < letters->len; i++) {
        const CheckIn *letter = letters->pdata[i];
        g_autofree char *text =
            g_strconcat(told(desk, letter->text), letter->clinician ? " *" : "", NULL);
        paper_mark(desk->sheet, BLOCK_ITEM, letter->letter, text);
        clinician = clinician || letter->clinician;
    }
    if (clinician) add_item(desk, "*", "paper-letters-clinician");
}

/* On a phone that others use as well it begins with the client's letter. */
static void add_example(const Desk *desk)
{
    const char letter[] = {desk->ask->sharer, '\0'};

    if (*letter == '\0') {
        add(desk, BLOCK_BOX, "paper-answers-example");
        return;
    }
    g_autofree char *example = wording(desk->pack, "paper-answers-example", NULL);
    g_autofree char *marked = g_strconcat(letter, " ", example, NULL);
    g_autofree char *why = wording(desk->pack, "paper-answers-shared", "letter", letter, NULL);
    paper_add(desk->sheet, BLOCK_BOX, marked);
    paper_add(desk->sheet, BLOCK_TEXT, why);
}

static void add_answers(const Desk *desk)
{
    bool mail = desk->ask->channel == CHANNEL_EMAIL;

    add(desk, BLOCK_HEADING, "paper-answers");
    if (desk->ask->channel == CHANNEL_PHONE) {
        add(desk, BLOCK_TEXT, "paper-answers-phone");
        return;
    }
    if (desk->ask->number != NULL)
        add(desk, BLOCK_TEXT, mail ? "paper-answers-mail" : "paper-answers-from");
    add(desk, BLOCK_TEXT, "paper-answers-text");
    add_example(desk);
    add_item(desk, "•", "paper-answers-done");
    add_item(desk, "•", "paper-answers-stretch");
    add_item(desk, "•", "paper-answers-pain");
    add(desk, BLOCK_TEXT, "paper-answers-words");
    add(desk, BLOCK_TEXT, "paper-answers-stop");
}

Paper *handout_sheet(const Pack *pack, const HandoutAsk *ask)
{
    g_autofree char *title = wording(pack, "paper-handout", NULL);
    Paper *sheet = paper_new(title, ask->large ? HANDOUT_LARGE_PT : HANDOUT_PT, ask->letter);
    Desk desk = {.pack = pack, .ask = ask, .sheet = sheet};

    sheet->footer = say(&desk, "paper-footer");
    sheet->page_words = g_strdup(pack_text(pack, "paper-page"));
    add_head(&desk);
    for (int i = 0; i < ask->n_movements; i++)
        add_movement(&desk, &ask->movements[i], i + 1);
    add_strong(&desk);
    add_stop(&desk);
    add_letters(&desk);
    add_answers(&desk);
    return sheet;
}

/* --- as plain text -------------------------------------------------------------------------------- */

static void write_block(GString *text, const Block *block)
{
    if (block->kind == BLOCK_HEADING)
        g_string_append_printf(text, "%s%s\n", text->len > 0 ? "\n" : "", block->text);
    else if (block->kind == BLOCK_LABEL)
        g_string_append_printf(text, "%s: ", block->text);
    else if (block->kind == BLOCK_ITEM)
        g_string_append_printf(text, "- %s\n", block->text);
    else if (block->text != NULL)
        g_string_append_printf(text, "%s\n", block->text);
}

/* The items of a list stand on lines of their own below its label. */
static void write_blocks(GString *text, const GPtrArray *blocks)
{
    BlockKind before = BLOCK_SPACE;

    for (guint i = 0; i < blocks->len; i++) {
        const Block *block = blocks->pdata[i];
        if (before == BLOCK_LABEL && block->kind == BLOCK_ITEM) text->str[text->len - 1] = '\n';
        write_block(text, block);
        before = block->kind;
    }
    while (text->len > 0 && text->str[text->len - 1] == '\n')
        g_string_truncate(text, text->len - 1);
}

char *handout_movements_text(const Pack *pack, const HandoutAsk *ask)
{
    g_autoptr(Paper) sheet = paper_new("", HANDOUT_PT, false);
    const Desk desk = {.pack = pack, .ask = ask, .sheet = sheet};
    GString *text = g_string_new(NULL);

    for (int i = 0; i < ask->n_movements; i++)
        add_movement(&desk, &ask->movements[i], i + 1);
    write_blocks(text, sheet->blocks);
    return g_string_free(text, FALSE);
}

char *handout_cautions_text(const Pack *pack, const Programme *programme)
{
    GString *text = g_string_new(NULL);

    for (guint i = 0; i < programme->cautions->len; i++)
        g_string_append_printf(text, "%s%s", i > 0 ? " " : "",
                               pack_programme_text(pack, programme->cautions->pdata[i]));
    return g_string_free(text, FALSE);
}
