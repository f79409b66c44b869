/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "core/clinic/route.h"

enum { GATEWAYS = 5 };

/* wide and spare serve every number, isles and london some, post is for mail. */
typedef struct {
    Gateway gateways[GATEWAYS];
    Clinic clinic;
    const char *down; /* names of gateways that are down, each with a space behind it */
} Place;

static GPtrArray *codes(const char *one, const char *other)
{
    GPtrArray *list = g_ptr_array_new_with_free_func(g_free);

    if (one != NULL) g_ptr_array_add(list, g_strdup(one));
    if (other != NULL) g_ptr_array_add(list, g_strdup(other));
    return list;
}

static void place_open(Place *place)
{
    *place = (Place){.gateways = {{.name = (char *)"wide", .countries = codes(NULL, NULL)},
                                  {.name = (char *)"isles", .countries = codes("44", "353")},
                                  {.name = (char *)"london", .countries = codes("4420", NULL)},
                                  {.name = (char *)"spare", .countries = codes(NULL, NULL)},
                                  {.name = (char *)"post", .kind = GATEWAY_MAIL}},
                     .down = ""};
    place->clinic.gateways = g_ptr_array_new();
    for (int i = 0; i < GATEWAYS; i++)
        g_ptr_array_add(place->clinic.gateways, &place->gateways[i]);
}

static void place_close(Place *place)
{
    for (int i = 0; i < GATEWAYS; i++)
        g_clear_pointer(&place->gateways[i].countries, g_ptr_array_unref);
    g_ptr_array_unref(place->clinic.gateways);
}

static bool is_up(const Gateway *gateway, void *context)
{
    const Place *place = context;
    g_autofree char *name = g_strconcat(gateway->name, " ", NULL);

    return strstr(place->down, name) == NULL;
}

static Route *route_to(Place *place, int gateway, Channel channel)
{
    return route_new(&place->clinic, gateway >= 0 ? &place->gateways[gateway] : NULL, channel,
                     is_up, place);
}

/* Which turn the gateway has for a number, as "turn/turns"; "-" where it takes none. */
static void turn_is(Place *place, int gateway, const char *number, const char *expected)
{
    g_autoptr(Route) route = route_to(place, gateway, CHANNEL_SMS);
    g_autofree char *turn = NULL;

    for (guint i = 0; turn == NULL; i++) {
        const RouteCase *one = &g_array_index(route->cases, RouteCase, i);
        if (!g_str_has_prefix(number, one->prefix)) continue;
        turn = one->turn < 0 ? g_strdup("-") : g_strdup_printf("%d/%d", one->turn, one->turns);
    }
    assert_string_equal(turn, expected);
}

static void a_country_goes_before_everywhere_and_else_the_order_of_the_file(void **state)
{
    Place place;

    (void)state;
    place_open(&place);
    turn_is(&place, 1, "+442079460001", "0/4");
    turn_is(&place, 2, "+442079460001", "1/4");
    turn_is(&place, 0, "+442079460001", "2/4");
    turn_is(&place, 3, "+442079460001", "3/4");
    turn_is(&place, 2, "+441134960001", "-");
    turn_is(&place, 0, "+441134960001", "1/3");
    turn_is(&place, 1, "+12025550143", "-");
    turn_is(&place, 0, "+12025550143", "0/2");
    place_close(&place);
}

static void who_is_down_has_no_turn_but_may_try(void **state)
{
    Place place;

    (void)state;
    place_open(&place);
    place.down = "isles wide ";
    turn_is(&place, 2, "+442079460001", "0/2");
    turn_is(&place, 3, "+442079460001", "1/2");
    turn_is(&place, 1, "+442079460001", "0/3");
    g_autoptr(Route) tried = route_to(&place, 1, CHANNEL_SMS);
    assert_true(tried->spares_calls);
    g_autoptr(Route) well = route_to(&place, 2, CHANNEL_SMS);
    assert_false(well->spares_calls);
    place_close(&place);
}

static void what_nobody_takes_is_known(void **state)
{
    Place place;

    (void)state;
    place_open(&place);
    place.down = "wide spare ";
    turn_is(&place, -1, "+441134960001", "-");
    turn_is(&place, -1, "+12025550143", "0/1");
    place.down = "";
    turn_is(&place, -1, "+12025550143", "-");
    place_close(&place);
}

static void one_gateway_alone_takes_all(void **state)
{
    Place place;

    (void)state;
    place_open(&place);
    assert_null(route_to(&place, 4, CHANNEL_EMAIL));
    place_close(&place);
}

static void a_number_is_reached_by_its_first_digits(void **state)
{
    Place place;

    (void)state;
    place_open(&place);
    assert_true(route_reaches(&place.gateways[0], "+4930901820"));
    assert_true(route_reaches(&place.gateways[1], "+353201234567"));
    assert_false(route_reaches(&place.gateways[1], "+35"));
    assert_false(route_reaches(&place.gateways[2], "+441134960001"));
    place_close(&place);
}

static void where_texts_come_from_is_told_where_it_is_sure(void **state)
{
    Place place;

    (void)state;
    place_open(&place);
    assert_null(route_texts_from(&place.clinic, "+447700900001"));
    place.gateways[0].from = place.gateways[3].from = (char *)"+447700900900";
    assert_string_equal(route_texts_from(&place.clinic, "+4930901820"), "+447700900900");
    assert_null(route_texts_from(&place.clinic, "+447700900001"));
    place.gateways[1].from = (char *)"+447700900900";
    assert_string_equal(route_texts_from(&place.clinic, "+447700900001"), "+447700900900");
    place.gateways[1].from = (char *)"+447700900901";
    assert_null(route_texts_from(&place.clinic, "+447700900001"));
    place_close(&place);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_country_goes_before_everywhere_and_else_the_order_of_the_file),
        cmocka_unit_test(who_is_down_has_no_turn_but_may_try),
        cmocka_unit_test(what_nobody_takes_is_known),
        cmocka_unit_test(one_gateway_alone_takes_all),
        cmocka_unit_test(a_number_is_reached_by_its_first_digits),
        cmocka_unit_test(where_texts_come_from_is_told_where_it_is_sure),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
