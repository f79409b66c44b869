/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/texts.h"

#include "core/talk/sms.h"

enum { SMS_UNITS = 160, LINE_LONGEST = 120, MAIL_LONGEST = 4000 };

struct Texts {
    GHashTable *by_key;
};

/* Is word one of the space-separated list? */
static bool listed(const char *list, const char *word)
{
    size_t length = strlen(word);

    for (const char *at = list; (at = strstr(at, word)) != NULL; at += length)
        if ((at == list || at[-1] == ' ') && (at[length] == '\0' || at[length] == ' ')) return true;
    return false;
}

/* The end of the placeholder that opens at text ("{name}"), and its name (g_free); NULL where none
 * opens. */
static const char *placeholder(const char *text, char **name)
{
    size_t length = *text == '{' ? strspn(text + 1, "abcdefghijklmnopqrstuvwxyz_") : 0;

    if (length == 0 || text[length + 1] != '}') return NULL;
    *name = g_strndup(text + 1, length);
    return text + length + 2;
}

char *text_fill(const char *text, TextValue *value, void *context)
{
    GString *filled = g_string_sized_new(strlen(text) + 64);

    while (*text != '\0') {
        g_autofree char *name = NULL;
        const char *after = placeholder(text, &name);
        if (after == NULL) {
            size_t plain = 1 + strcspn(text + 1, "{");
            g_string_append_len(filled, text, (gssize)plain);
            text += plain;
            continue;
        }
        const char *found = value(name, context);
        g_string_append(filled, found != NULL ? found : "");
        text = after;
    }
    return g_string_free(filled, FALSE);
}

/* The widest value of a placeholder, in characters that GSM-7 has. */
static const char *widest(const char *name, void *context)
{
    GPtrArray *made = context;
    char *value = g_strnfill((gsize)text_width(name), 'M');

    g_ptr_array_add(made, value);
    return value;
}

char *text_marked(char letter, const char *text)
{
    return g_strdup_printf("%c: %s", letter, text);
}

char text_mark_of(const char *text, const char **rest)
{
    if (!g_ascii_isupper(text[0]) || text[1] != ':' || text[2] != ' ') return 0;
    *rest = text + 3;
    return text[0];
}

static void check_gsm7(const TextRule *rule, const char *text, const char *pointer, Faults *faults)
{
    g_autoptr(GPtrArray) made = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *filled = text_fill(text, widest, made);
    g_autofree char *full =
        rule->form == TEXT_OWN_SMS ? text_marked('M', filled) : g_strdup(filled);
    const char *outside = sms_outside(text);
    int most = rule->form == TEXT_PART ? text_width("kind") : SMS_UNITS;
    int units = sms_size(full).units;

    if (outside != NULL) {
        g_autofree char *plain = sms_plain(outside);
        bool cures = sms_outside(plain) == NULL;
        fault_add(
            faults, pointer, text,
            "'%.*s' at character %ld is outside the SMS alphabet GSM-7 and would halve what a "
            "segment holds; %s",
            (int)(g_utf8_next_char(outside) - outside), outside,
            g_utf8_pointer_to_offset(text, outside) + 1,
            cures ? "write it plainly (' \" - ... deg)" : "choose another word or letter");
    } else if (units > most) {
        fault_add(faults, pointer, text,
                  "is %d units too long: %d with its placeholders at their widest%s, %s %d",
                  units - most, units,
                  rule->form == TEXT_OWN_SMS ? " and the letter of a shared phone before it" : "",
                  rule->form == TEXT_PART ? "there is room for" : "one segment holds", most);
    }
}

static void check_long(const char *text, TextForm form, const char *pointer, Faults *faults)
{
    long length = g_utf8_strlen(text, -1);
    long most = form == TEXT_LINE ? LINE_LONGEST : MAIL_LONGEST;

    if (form == TEXT_LINE && strpbrk(text, "\r\n") != NULL)
        fault_add(faults, pointer, text, "must be one line");
    if (length > most)
        fault_add(faults, pointer, text, "has %ld characters, at most %ld are taken", length, most);
}

static void check_placeholders(const TextRule *rule, const char *text, const char *pointer,
                               Faults *faults)
{
    for (const char *at = strchr(text, '{'); at != NULL; at = strchr(at, '{')) {
        g_autofree char *name = NULL;
        const char *after = placeholder(at, &name);
        if (after == NULL)
            fault_add(faults, pointer, text, "has a { at character %ld that opens no {placeholder}",
                      g_utf8_pointer_to_offset(text, at) + 1);
        else if (!listed(rule->offers, name))
            fault_add(faults, pointer, text, "may not use {%s}; it offers: %s", name,
                      *rule->offers != '\0' ? rule->offers : "none");
        at = after != NULL ? after : at + 1;
    }
    g_auto(GStrv) needs = g_strsplit(rule->needs, " ", -1);
    for (int i = 0; needs[i] != NULL; i++) {
        g_autofree char *braced = g_strdup_printf("{%s}", needs[i]);
        if (strstr(text, braced) == NULL) fault_add(faults, pointer, text, "must hold %s", braced);
    }
}

static void check(const TextRule *rule, const char *text, const char *pointer, Faults *faults)
{
    static const char *const LINKS[] = {"http://", "https://", "www."};
    g_autofree char *folded = g_ascii_strdown(text, -1);

    if (*text == '\0') {
        fault_add(faults, pointer, text, "must not be empty");
        return;
    }
    for (size_t i = 0; i < G_N_ELEMENTS(LINKS); i++)
        if (strstr(folded, LINKS[i]) != NULL)
            fault_add(faults, pointer, text, "holds a link; people are right to distrust those");
    check_placeholders(rule, text, pointer, faults);
    if (rule->form == TEXT_SMS || rule->form == TEXT_OWN_SMS || rule->form == TEXT_PART)
        check_gsm7(rule, text, pointer, faults);
    else
        check_long(text, rule->form, pointer, faults);
}

static void check_unknown(json_t *object, const char *pointer, Faults *faults)
{
    size_t n;
    const TextRule *rules = text_rules(&n);
    g_autofree const char **known = g_new0(const char *, n + 1);

    for (size_t i = 0; i < n; i++)
        known[i] = rules[i].key;
    fault_unknown_keys(faults, pointer, object, known);
}

Texts *texts_read(json_t *object, const char *pointer, Faults *faults)
{
    guint before = faults->items->len;
    size_t n;
    const TextRule *rules = text_rules(&n);
    g_autoptr(Texts) texts = g_new0(Texts, 1);

    texts->by_key = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, g_free);
    if (!json_is_object(object)) {
        fault_add(faults, pointer, "texts", "must be a list of KEY: TEXT, what osier writes");
        return NULL;
    }
    check_unknown(object, pointer, faults);
    for (size_t i = 0; i < n; i++) {
        const char *text = fault_text(faults, pointer, object, rules[i].key, true);
        g_autofree char *place = g_strdup_printf("%s/%s", pointer, rules[i].key);
        if (text == NULL) continue;
        char *kept = g_strstrip(g_strdup(text));
        g_hash_table_insert(texts->by_key, (char *)rules[i].key, kept);
        check(&rules[i], kept, place, faults);
    }
    return faults->items->len == before ? g_steal_pointer(&texts) : NULL;
}

void texts_free(Texts *texts)
{
    if (texts == NULL) return;
    g_hash_table_unref(texts->by_key);
    g_free(texts);
}

const char *texts_get(const Texts *texts, const char *key)
{
    return g_hash_table_lookup(texts->by_key, key);
}
