/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/files/tree.h"
#include "core/talk/texts.h"

/* A set of texts that is fit to send: each key holds what it needs and nothing else. */
static json_t *fit(void)
{
    json_t *object = json_object();
    size_t n;
    const TextRule *rules = text_rules(&n);

    for (size_t i = 0; i < n; i++) {
        GString *text = g_string_new("ok");
        g_auto(GStrv) needs = g_strsplit(rules[i].needs, " ", -1);
        for (int j = 0; needs[j] != NULL; j++)
            g_string_append_printf(text, " {%s}", needs[j]);
        json_object_set_new(object, rules[i].key, json_string(text->str));
        g_string_free(text, TRUE);
    }
    return object;
}

/* The one fault that a set has when a key holds this text (NULL: lacks it). */
static void expect(const char *key, const char *text, const char *pointer, const char *why)
{
    json_t *object = fit();
    g_autoptr(Faults) faults = faults_new();

    if (text != NULL)
        json_object_set_new(object, key, json_string(text));
    else
        json_object_del(object, key);
    assert_null(texts_read(object, "/texts", faults));
    assert_int_equal(faults->items->len, 1);
    const Fault *fault = g_ptr_array_index(faults->items, 0);
    assert_string_equal(fault->pointer, pointer);
    if (strstr(fault->why, why) == NULL) fail_msg("%s", fault->why);
    json_decref(object);
}

static void a_fit_set_is_taken(void **state)
{
    json_t *object = fit();
    g_autoptr(Faults) faults = faults_new();
    g_autoptr(Texts) texts = texts_read(object, "/texts", faults);

    (void)state;
    json_decref(object);
    assert_non_null(texts);
    assert_string_equal(texts_get(texts, "stopped"), "ok {clinic}");
    assert_null(texts_get(texts, "no-such"));
}

static void each_fault_is_told_with_its_place(void **state)
{
    (void)state;
    expect("help", NULL, "/texts", "missing");
    expect("told", "", "/texts/told", "empty");
    expect("told", "We have told your clinic – now", "/texts/told", "'–' at character 26");
    expect("told", "Hemos avisado a su clínica", "/texts/told", "'í' at character 22");
    expect("told", "see https://clinic.example", "/texts/told", "link");
    expect("told", "see WWW.clinic.example", "/texts/told", "link");
    expect("told", "ring {emergency", "/texts/told", "character 6");
    expect("told", "{initials} is told", "/texts/told", "may not use {initials}");
    expect("safety-heart", "ring {phone}", "/texts/safety-heart", "must hold {emergency}");
    expect("subject-safety", "one\ntwo", "/texts/subject-safety", "one line");
}

static void an_unknown_key_is_told_with_the_nearest(void **state)
{
    json_t *object = fit();
    g_autoptr(Faults) faults = faults_new();

    (void)state;
    json_object_set_new(object, "remindr", json_string("x"));
    assert_null(texts_read(object, "/texts", faults));
    assert_int_equal(faults->items->len, 1);
    const Fault *fault = g_ptr_array_index(faults->items, 0);
    assert_true(fault->at_key);
    assert_non_null(strstr(fault->why, "reminder"));
    json_decref(object);
}

static void the_widest_values_count(void **state)
{
    g_autofree char *fits = g_strnfill(160 - 8, 'a');
    g_autofree char *full = g_strconcat("{emergency}", fits, NULL);
    g_autofree char *over = g_strconcat("{emergency}aa", fits, NULL);
    g_autofree char *euro = g_strconcat("{emergency}\u20ac", fits + 1, NULL);
    json_t *object = fit();
    g_autoptr(Faults) faults = faults_new();

    (void)state;
    json_object_set_new(object, "told", json_string(full));
    g_autoptr(Texts) texts = texts_read(object, "/texts", faults);
    assert_non_null(texts);
    json_decref(object);
    expect("told", over, "/texts/told", "2 units too long: 162");
    expect("told", euro, "/texts/told", "1 units too long: 161");
    expect("kind-fall", "a word that is wider than its room", "/texts/kind-fall", "too long");
}

static void texts_that_are_no_object_or_no_text_are_refused(void **state)
{
    g_autoptr(Faults) faults = faults_new();
    json_t *list = json_array();
    json_t *object = fit();

    (void)state;
    assert_null(texts_read(list, "/texts", faults));
    assert_null(texts_read(NULL, "/texts", faults));
    json_object_set_new(object, "help", json_array());
    assert_null(texts_read(object, "/texts", faults));
    assert_int_equal(faults->items->len, 3);
    json_decref(list);
    json_decref(object);
}

static const char *value_of(const char *name, void *context)
{
    (void)context;
    if (strcmp(name, "clinic") == 0) return "{phone} & Co";
    return strcmp(name, "phone") == 0 ? "123" : NULL;
}

static void a_value_is_never_scanned(void **state)
{
    (void)state;
    g_autofree char *text =
        text_fill("{clinic}, {phone}{absent} {} {Clinic} {phone", value_of, NULL);
    assert_string_equal(text, "{phone} & Co, 123 {} {Clinic} {phone");
}

static void the_packs_that_come_with_osier_are_fit_to_send(void **state)
{
    const char *const languages[] = {"en", "es", "fr"};
    g_autoptr(GPtrArray) lines = g_ptr_array_new_with_free_func(g_free);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(languages); i++) {
        g_autofree char *path = g_strdup_printf("config/languages/%s.yaml", languages[i]);
        g_autoptr(Tree) tree = tree_load(path, lines);
        g_autoptr(Faults) faults = tree != NULL ? tree_faults_new(tree) : faults_new();
        json_t *object = tree != NULL ? json_object_get(tree_root(tree), "texts") : NULL;
        g_autoptr(Texts) texts = texts_read(object, "/texts", faults);
        if (tree != NULL) tree_faults(tree, faults, lines);
        (void)texts;
    }
    for (guint i = 0; i < lines->len; i++)
        print_error("%s\n", (const char *)g_ptr_array_index(lines, i));
    assert_int_equal(lines->len, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_fit_set_is_taken),
        cmocka_unit_test(each_fault_is_told_with_its_place),
        cmocka_unit_test(an_unknown_key_is_told_with_the_nearest),
        cmocka_unit_test(the_widest_values_count),
        cmocka_unit_test(texts_that_are_no_object_or_no_text_are_refused),
        cmocka_unit_test(a_value_is_never_scanned),
        cmocka_unit_test(the_packs_that_come_with_osier_are_fit_to_send),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
