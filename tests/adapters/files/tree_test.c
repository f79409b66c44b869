/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/files/complaint.h"
#include "adapters/files/tree.h"
#include "tests/support/folder.h"

/* The tree of a text, or NULL with lines in messages that begin behind the path. */
static Tree *load(const char *text, gssize length, GPtrArray *messages)
{
    char *folder = folder_new();
    g_autofree char *path = g_build_filename(folder, "a.yaml", NULL);
    g_autoptr(GPtrArray) lines = g_ptr_array_new_with_free_func(g_free);

    folder_write(folder, "a.yaml", text, length, 0600);
    Tree *tree = tree_load(path, lines);
    for (guint i = 0; i < lines->len; i++) {
        assert_true(g_str_has_prefix(lines->pdata[i], path));
        g_ptr_array_add(messages, g_strdup((char *)lines->pdata[i] + strlen(path) + 1));
    }
    folder_remove(folder);
    return tree;
}

static void complains(const char *text, gssize length, const char *expected)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(Tree) tree = load(text, length, messages);

    assert_null(tree);
    assert_true(messages->len >= 1);
    if (!g_str_has_prefix(messages->pdata[0], expected))
        fail_msg("'%s' complains '%s', not '%s'", text, (char *)messages->pdata[0], expected);
}

static void reads(const char *yaml, const char *json)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(Tree) tree = load(yaml, -1, messages);

    if (tree == NULL) fail_msg("%s: %s", yaml, (char *)messages->pdata[0]);
    char *dumped =
        json_dumps(tree_root(tree), JSON_COMPACT | JSON_ENCODE_ANY | JSON_REAL_PRECISION(15));
    if (strcmp(dumped, json) != 0) fail_msg("%s reads as %s, not %s", yaml, dumped, json);
    free(dumped);
}

static void surprises_of_yaml_stay_text(void **state)
{
    (void)state;
    reads("a: no", "{\"a\":\"no\"}");
    reads("a: yes\nb: on\nc: ~", "{\"a\":\"yes\",\"b\":\"on\",\"c\":\"~\"}");
    reads("no: 1", "{\"no\":1}");
    reads("a: 1:30", "{\"a\":\"1:30\"}");
    reads("a: 08\nb: 0x10\nc: 0o7\nd: .5\ne: +44",
          "{\"a\":\"08\",\"b\":\"0x10\",\"c\":\"0o7\",\"d\":\".5\",\"e\":\"+44\"}");
    reads("a: 2026-12-25\nb: 21:00-08:00", "{\"a\":\"2026-12-25\",\"b\":\"21:00-08:00\"}");
    reads("a: .inf\nb: .nan\nc: 1_000", "{\"a\":\".inf\",\"b\":\".nan\",\"c\":\"1_000\"}");
    reads("a: 99999999999999999999\nb: 1e999", "{\"a\":\"99999999999999999999\",\"b\":\"1e999\"}");
    reads("%YAML 1.1\n---\na: no\n", "{\"a\":\"no\"}");
}

static void what_json_knows_is_what_it_is(void **state)
{
    (void)state;
    reads("a: 1\nb: -2.5\nc: 1e3\nd: true\ne: null\nf:\n",
          "{\"a\":1,\"b\":-2.5,\"c\":1000.0,\"d\":true,\"e\":null,\"f\":null}");
    reads("a: '1'\nb: \"true\"\nc: ''", "{\"a\":\"1\",\"b\":\"true\",\"c\":\"\"}");
    reads("[1, {a: [b]}, \"c d\"]", "[1,{\"a\":[\"b\"]},\"c d\"]");
    reads("a: |\n  x\n  y\nb: >\n  x\n  y\n", "{\"a\":\"x\\ny\\n\",\"b\":\"x y\\n\"}");
    reads("", "null");
    reads("# nothing\n", "null");
    reads("\xEF\xBB\xBF"
          "a: 1",
          "{\"a\":1}");
}

static void pointers_elsewhere_are_refused(void **state)
{
    (void)state;
    complains("a: &x 1\n", -1, "1:7: &: anchors");
    complains("a: 1\nb: *x\n", -1, "2:4: *: aliases");
    complains("a: !!str 1\n", -1, "1:10: !: tags");
    complains("a: {b: 1}\n<<: {c: 2}\n", -1, "2:1: <<: merge keys");
    complains("a: 1\n---\nb: 2\n", -1, "2:1: ---: a file holds one document");
}

static void aliases_cannot_blow_up(void **state)
{
    GString *text = g_string_new("a0: &a0 [x,x,x,x,x,x,x,x,x]\n");

    (void)state;
    for (int i = 1; i < 40; i++) {
        g_string_append_printf(text, "a%d: &a%d [", i, i);
        for (int k = 0; k < 9; k++)
            g_string_append_printf(text, "*a%d%s", i - 1, k < 8 ? " ," : " ]\n");
    }
    complains(text->str, -1, "1:9: &: anchors");
    g_string_free(text, TRUE);
}

static void every_duplicate_key_is_told(void **state)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(Tree) tree = load("a: 1\nb: {c: 1, c: 2}\na: 3\n", -1, messages);

    (void)state;
    assert_null(tree);
    assert_int_equal(messages->len, 2);
    assert_string_equal(messages->pdata[0],
                        "2:11: c: duplicate key; it is given on line 2 already");
    assert_string_equal(messages->pdata[1], "3:1: a: duplicate key; it is given on line 1 already");
}

static void what_stands_below_a_duplicate_key_is_its_own(void **state)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(Tree) tree = load("a: {b: 1}\na: {b: 2,\n b: 3}\na: 4\n", -1, messages);

    (void)state;
    assert_null(tree);
    assert_int_equal(messages->len, 3);
    assert_string_equal(messages->pdata[0], "2:1: a: duplicate key; it is given on line 1 already");
    assert_string_equal(messages->pdata[1], "3:2: b: duplicate key; it is given on line 2 already");
    assert_string_equal(messages->pdata[2], "4:1: a: duplicate key; it is given on line 1 already");
}

static void keys_that_a_pointer_must_write_otherwise_are_found(void **state)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(Tree) tree = load("a/b:\n  - x\n  - c~d: 1.50\n", -1, messages);
    g_autoptr(GPtrArray) lines = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(Faults) faults = tree_faults_new(tree);

    (void)state;
    fault_add_key(faults, "/a~1b/1/c~0d", "c~d", "found");
    g_autofree char *written = fault_written(faults, "/a~1b/1/c~0d", json_null());
    assert_string_equal(written, "1.50");
    tree_faults(tree, faults, lines);
    assert_int_equal(lines->len, 1);
    assert_non_null(strstr(lines->pdata[0], ":3:5: c~d: found"));
}

static void broken_syntax_has_a_place(void **state)
{
    (void)state;
    complains("a:\n\t- b\n", -1, "2:1: ");
    complains("a: b: c\n", -1, "1:5: ");
    complains("a: [1, 2\nb: 3\n", -1, "3:1: ");
    complains("a: \"x\n", -1, "1:");
    complains("a: @x\n", -1, "1:4: @x: ");
    complains("{a: 1, [b]: 2}\n", -1, "1:8: : a key must be plain text");
    complains("\"b\": 1\n\"b\" : 2\n", -1, "2:1: b: duplicate");
    complains("'': 1\n", -1, "1:1: : a key cannot be empty");
}

static void bytes_that_are_no_text(void **state)
{
    (void)state;
    complains("a: 1\nb: \xC3\x28\n", -1, "2:4: 0xC3: is not valid UTF-8");
    complains("a: 1\0b: 2", 9, "1:5: 0x00: a NUL byte");
    complains("a: \"x\\0y\"\n", -1, "1:4: x: is not valid text");
    complains("a: \"\\ud800\"\n", -1, "1:");
}

static void too_large_and_too_deep(void **state)
{
    g_autofree char *large = g_strnfill(TREE_BYTES_MAX + 1, '#');
    g_autofree char *limit = g_strnfill(TREE_BYTES_MAX, '#');
    g_autofree char *deep = g_strnfill(200000, '[');
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    (void)state;
    complains(large, -1, "1:1: : is larger than 1024 kB");
    complains(deep, -1, "1:33: : is nested more than 32 levels deep");
    g_autoptr(Tree) tree = load(limit, -1, messages);
    assert_non_null(tree);
}

static void many_keys_are_quick(void **state)
{
    GString *text = g_string_new(NULL);
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    (void)state;
    for (int i = 0; i < 20000; i++)
        g_string_append_printf(text, "k%d: 1\n", i);
    g_autoptr(Tree) tree = load(text->str, (gssize)text->len, messages);
    assert_int_equal(json_object_size(tree_root(tree)), 20000);
    g_string_free(text, TRUE);
}

static void file_that_is_none(void **state)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    (void)state;
    assert_null(tree_load("/nonexistent/a.yaml", messages));
    assert_null(tree_load("/dev/null", messages));
    assert_null(tree_load("/", messages));
    assert_int_equal(messages->len, 3);
    assert_string_equal(messages->pdata[0], "/nonexistent/a.yaml:1:1: : No such file or directory");
    assert_string_equal(messages->pdata[1], "/dev/null:1:1: : is not a regular file");
}

static void faults_come_in_the_order_of_the_file(void **state)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(Tree) tree = load("a:\n  b: 1.10\nc: [x, yy]\n", -1, messages);
    g_autoptr(GPtrArray) lines = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(Faults) faults = tree_faults_new(tree);

    (void)state;
    fault_add(faults, "/c/1", "yy", "third");
    fault_add(faults, "/a/nowhere", "n", "first, at the nearest node above");
    assert_int_equal(fault_whole(faults, "/a", json_object_get(tree_root(tree), "a"), "b", 0, 0, 9),
                     0);
    fault_add_key(faults, "/c", "c", "key");
    tree_faults(tree, faults, lines);
    static const char *const EXPECTED[] = {":2:3: n: first", ":2:6: 1.10: must be a whole",
                                           ":3:1: c: key", ":3:8: yy: third"};
    assert_int_equal(lines->len, 4);
    for (int i = 0; i < 4; i++)
        if (strstr(lines->pdata[i], EXPECTED[i]) == NULL) fail_msg("%s", (char *)lines->pdata[i]);
}

static void complaints_can_be_taken_apart(void **state)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    Complaint parts = {0};

    (void)state;
    complaint_add(messages, "/a: b/c.yaml", 12, 3, "x: y", "wrong: %s", "very");
    assert_true(complaint_split(messages->pdata[0], &parts));
    assert_string_equal(parts.file, "/a: b/c.yaml");
    assert_int_equal(parts.line, 12);
    assert_int_equal(parts.column, 3);
    assert_string_equal(parts.value, "x:y");
    assert_string_equal(parts.why, "wrong: very");
    complaint_clear(&parts);
    assert_false(complaint_split("nothing of the kind", &parts));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(surprises_of_yaml_stay_text),
        cmocka_unit_test(what_json_knows_is_what_it_is),
        cmocka_unit_test(pointers_elsewhere_are_refused),
        cmocka_unit_test(aliases_cannot_blow_up),
        cmocka_unit_test(every_duplicate_key_is_told),
        cmocka_unit_test(what_stands_below_a_duplicate_key_is_its_own),
        cmocka_unit_test(keys_that_a_pointer_must_write_otherwise_are_found),
        cmocka_unit_test(broken_syntax_has_a_place),
        cmocka_unit_test(bytes_that_are_no_text),
        cmocka_unit_test(too_large_and_too_deep),
        cmocka_unit_test(many_keys_are_quick),
        cmocka_unit_test(file_that_is_none),
        cmocka_unit_test(faults_come_in_the_order_of_the_file),
        cmocka_unit_test(complaints_can_be_taken_apart),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
