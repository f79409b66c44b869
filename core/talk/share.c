/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/share.h"

#include <glib.h>
#include <string.h>

#include "core/talk/letter.h"
#include "core/talk/reading.h"

#define BLANKS " \t\r\n"
#define MARKS ".,:;-)"

/* --- giving letters --- */

static bool is_free(char letter, const char *offered, const char *letters, int n)
{
    return letter != '\0' && strchr(offered, letter) != NULL &&
           memchr(letters, letter, (size_t)n) == NULL;
}

/* The first letter of a text that is free, or 0. A letter with an accent counts as the plain one. */
static char first_free(const char *text, const char *offered, const char *letters, int n)
{
    g_autofree char *apart = g_utf8_normalize(text, -1, G_NORMALIZE_DEFAULT);

    for (const char *p = apart; p != NULL && *p != '\0'; p++)
        if (g_ascii_isalpha(*p) && is_free(g_ascii_toupper(*p), offered, letters, n))
            return g_ascii_toupper(*p);
    return 0;
}

void share_letters(const char *const *names, const char *const *offered, int n, char *letters)
{
    for (int i = 0; i < n; i++) {
        letters[i] = first_free(names[i], offered[i], letters, i);
        if (letters[i] == 0) letters[i] = first_free(offered[i], offered[i], letters, i);
    }
}

/* --- reading answers --- */

char share_letter_of(const char *text, const char **rest)
{
    const char *at = text + strspn(text, BLANKS "(");
    char letter = g_ascii_isalpha(*at) ? g_ascii_toupper(*at) : 0;

    if (letter == 0 || (at[1] != '\0' && strchr(BLANKS MARKS, at[1]) == NULL)) return 0;
    at++;
    *rest = at + strspn(at, BLANKS MARKS);
    return letter;
}

static bool says_more(const Reading *reading)
{
    return reading->command != COMMAND_NONE || reading->suspend || reading->death ||
           reading->wrong_number;
}

/* The end of the words-th word of a text, as blanks part them. */
static size_t words_end(const char *text, int words)
{
    const char *at = text;

    for (int i = 0; i < words; i++) {
        at += strspn(at, BLANKS);
        at += strcspn(at, BLANKS);
    }
    return (size_t)(at - text);
}

/* By its first word; or by two, the word for pain and its number, or "not" and what was not done. */
static bool begins_with_report(const Pack *const *packs, int n, const char *rest)
{
    g_autoptr(Reading) one = reply_read(packs, n, rest, words_end(rest, 1));
    g_autoptr(Reading) two = reply_read(packs, n, rest, words_end(rest, 2));

    if (one->warning != WARNING_NONE || says_more(one)) return false;
    return one->done != DONE_UNSAID || one->intensity >= 0 || one->answer != ANSWER_NONE ||
           one->pain_kind == PAIN_NUMBER || two->pain_kind == PAIN_NUMBER ||
           (one->denies && two->done == DONE_NO);
}

static LetterForm form_of(const char *names, const char *text, size_t length)
{
    g_autofree char *part = g_strndup(text, length);
    Letter letter = letter_read(names, part);
    LetterForm form = letter.form;

    letter_clear(&letter);
    return form;
}

static bool begins_with_checkin(const Pack *pack, const char *rest)
{
    const char *names = pack_text(pack, "checkin-words");

    return form_of(names, rest, strlen(rest)) != LETTER_NONE &&
           (form_of(names, rest, words_end(rest, 1)) == LETTER_ALONE ||
            form_of(names, rest, words_end(rest, 2)) == LETTER_NAMED);
}

/* A letter by itself that somebody has, or may have: not the end of "I'm". */
static bool holds_letter(const char *text, const char *taken, const char *offered)
{
    bool inside = false;

    for (const char *p = text; *p != '\0'; p = g_utf8_next_char(p)) {
        gunichar c = g_utf8_get_char(p), next = g_utf8_get_char(g_utf8_next_char(p));
        bool word = g_unichar_isalnum(c) || c == '\'' || c == 0x2019;
        bool ends = !g_unichar_isalnum(next) && next != '\'' && next != 0x2019;
        char letter = c < 0x80 && g_ascii_isalpha((char)c) ? g_ascii_toupper((char)c) : 0;
        if (!inside && ends && letter != 0 && (strchr(taken, letter) || strchr(offered, letter)))
            return true;
        inside = word;
    }
    return false;
}

bool share_is_answer(const Pack *const *packs, int n, const char *taken, const char *rest)
{
    if (!g_utf8_validate(rest, -1, NULL) || holds_letter(rest, taken, pack_share_letters(packs[0])))
        return false;
    if (!begins_with_report(packs, n, rest) && !begins_with_checkin(packs[0], rest)) return false;
    g_autoptr(Reading) whole = reply_read(packs, n, rest, strlen(rest));
    return !says_more(whole) && whole->kin_warning == WARNING_NONE &&
           (whole->warning == WARNING_NONE || whole->own_sign);
}

/* The words of a text without accents, as a set; of a name, those that are more than an initial or a "de". */
static GHashTable *words_of(const char *text, bool name)
{
    enum { NAME_LEAST = 3 };
    GHashTable *words = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    g_autofree char *apart = g_utf8_normalize(text, -1, G_NORMALIZE_ALL);
    g_autoptr(GString) word = g_string_new(NULL);
    bool low = false;

    for (const char *p = apart; p != NULL; p = g_utf8_next_char(p)) {
        gunichar c = g_utf8_get_char(p);
        if (g_unichar_ismark(c)) continue;
        if (g_unichar_isalnum(c)) {
            if (word->len == 0) low = g_unichar_islower(c);
            g_string_append_unichar(word, g_unichar_tolower(c));
            continue;
        }
        if (word->len > 0 && !(name && (low || g_utf8_strlen(word->str, -1) < NAME_LEAST)))
            g_hash_table_add(words, g_strdup(word->str));
        g_string_truncate(word, 0);
        if (c == 0) break;
    }
    return words;
}

bool share_names_other(const char *text, const char *own, const char *other)
{
    g_autoptr(GHashTable) said = words_of(text, false), mine = words_of(own, false);
    g_autoptr(GHashTable) theirs = words_of(other, true);
    GHashTableIter iter;
    void *word;

    g_hash_table_iter_init(&iter, theirs);
    while (g_hash_table_iter_next(&iter, &word, NULL))
        if (g_hash_table_contains(said, word) && !g_hash_table_contains(mine, word)) return true;
    return false;
}

bool share_is_answer_letter(const Pack *pack, char letter)
{
    const char label[] = {letter, ' ', '4', '\0'};
    g_autoptr(Reading) alone = reply_read(&pack, 1, label, 1);
    g_autoptr(Reading) labels = reply_read(&pack, 1, label, strlen(label));

    return alone->done != DONE_UNSAID || alone->answer != ANSWER_NONE || says_more(alone) ||
           labels->done == DONE_NO || labels->pain_kind != PAIN_UNSAID ||
           labels->answer != ANSWER_NONE || says_more(labels);
}
