/** Generated from result.schema.json by npm run schemas; do not edit. */

/**
 * @minItems 3
 * @maxItems 3
 */
export type Point = [number, number, number];
/**
 * On its axis, where a named end may lie.
 *
 * @minItems 3
 * @maxItems 3
 */
export type Point1 = [number, number, number];
/**
 * If it is a feeder: its share of the shunt, by the third and the fourth power of the calibre.
 *
 * @minItems 2
 * @maxItems 2
 */
export type Interval = [number, number];
/**
 * @minItems 2
 * @maxItems 2
 */
export type Interval1 = [number, number];
/**
 * measured: on the surface or in the patient; derived: computed from those; assumed: taken because nothing was given; stated: given in the case or on the command line.
 */
export type Origin = "measured" | "derived" | "assumed" | "stated";
/**
 * Compliant balloon for the first feeder.
 *
 * @minItems 2
 * @maxItems 2
 */
export type Interval2 = [number, number];
/**
 * Published limits of agreement with the values measured afterwards.
 *
 * @minItems 2
 * @maxItems 2
 */
export type Interval3 = [number, number];
/**
 * Point of the case that is the print's origin: print = (case - origin) times scale.
 *
 * @minItems 3
 * @maxItems 3
 */
export type Point2 = [number, number, number];
/**
 * Edge lengths of the bounding box of the fused model, with its tag.
 *
 * @minItems 3
 * @maxItems 3
 */
export type Point3 = [number, number, number];
/**
 * Unit vector of the vessel's direction at a diameter.
 *
 * @minItems 3
 * @maxItems 3
 */
export type Point4 = [number, number, number];
/**
 * Width, depth and height as it stands.
 *
 * @minItems 3
 * @maxItems 3
 */
export type Point5 = [number, number, number];

/**
 * Every number of one plan. Keys include the unit; an interval is [low, high], 95 %; what cannot be computed is left out.
 */
export interface Result {
  format: "pavm-result/1";
  case: string;
  title?: string;
  purpose: "clinical" | "teaching" | "demo";
  scan_date?: string;
  /**
   * What the header of the CT series says; only agrees where the case names no series.
   */
  scan?: {
    /**
     * Whether the fields of the case agree with the header.
     */
    agrees: "yes" | "no" | "unchecked";
    slices?: number;
    /**
     * Between columns, between rows, median step along the normal of the slices.
     *
     * @minItems 3
     * @maxItems 3
     */
    spacing_mm?: [number, number, number];
    /**
     * One value, or each that occurs.
     */
    thickness_mm?: number | number[];
    /**
     * Where slices are missing, by position along the normal.
     */
    gaps?: {
      after_mm: number;
      step_mm: number;
    }[];
    /**
     * Angle between the stack and the normal of its slices.
     */
    tilt_deg?: number;
    /**
     * Full width of the blur at half maximum, estimated from the walls, voxels included: in plane, along the normal.
     *
     * @minItems 2
     * @maxItems 2
     */
    blur_mm?: [number, number];
    plane?: "transverse" | "coronal" | "sagittal" | "oblique";
    /**
     * Code of DICOM C.7.3.1.1.2, for example HFS.
     */
    patient_position?: string;
    kernel?: string;
    tube_voltage_kv?: number;
    /**
     * Whether a contrast agent was given, according to the header.
     */
    contrast?: "yes" | "no" | "unknown";
    date?: string;
  };
  /**
   * Whether the surface lies in the scan.
   */
  frame?: {
    verdict: "fits" | "flipped" | "shifted" | "elsewhere" | "unchecked";
    /**
     * Translation of the surface, LPS, that fits the scan best.
     *
     * @minItems 3
     * @maxItems 3
     */
    shift_mm?: [number, number, number];
    /**
     * The change of the surface that would fit best, in words; never applied.
     */
    best?: string;
    /**
     * Median contrast across the wall, inside minus outside.
     */
    contrast_hu?: number;
  };
  /**
   * Where the surface was made from the scan (surfaces.from_scan): whether a reader has confirmed it, and where it is uncertain. Absent where the case gives surfaces.
   */
  proposal?: {
    confirmed: "yes" | "no";
    /**
     * As given in the case.
     */
    confirmed_by?: string;
    not_confirmed_because?: string;
    /**
     * Of surfaces/lesion.stl, on which everything here is measured.
     */
    surface_sha256: string;
    /**
     * Share of the area of the surface.
     */
    unsure_percent: number;
    /**
     * The largest first.
     */
    unsure: {
      kind: "directions-disagree" | "low-contrast" | "neighbour" | "sharp-turn";
      /**
       * Name of a vessel, or sac.
       */
      near: string;
      point_mm: Point;
      length_mm: number;
      /**
       * Share of the area of the whole surface.
       */
      share_percent: number;
    }[];
    ends: {
      name: string;
      point_mm: Point;
      calibre_mm?: number;
      lumen_hu?: number;
      /**
       * Grey value at which the wall lies there.
       */
      level_hu?: number;
    }[];
    /**
     * Opacified vessels that touch the lesion and were separated from it.
     */
    touching: {
      of: string;
      point_mm: Point;
      contact_mm: number;
    }[];
    /**
     * A part of the sac without contrast agent, which the surface leaves out.
     */
    thrombus?: {
      volume_ml: number;
      point_mm: Point;
    };
    /**
     * What was done.
     */
    steps: {
      stage: string;
      text: string;
    }[];
  };
  /**
   * Opacified vessels continuous with the lesion that lie in no surface; absent where the surfaces do not lie in the scan.
   */
  missed?: {
    kind: "feeder-candidate" | "side-branch" | "unclear";
    point_mm: Point;
    calibre_mm: number;
    length_mm: number;
    joins: string;
    /**
     * From the far end of the vessel that it joins.
     */
    joins_at_mm?: number;
    leads_to_mm: Point;
    end_mm?: Point1;
    could_carry_percent?: Interval;
  }[];
  /**
   * Parts inside the surfaces that are not opacified in the scan; absent where the surfaces do not lie in it.
   */
  uncontrasted?: {
    where: string;
    volume_ml: number;
    point_mm: Point;
  }[];
  /**
   * Patient axes of every point in this result, as the case states them (surfaces.frame).
   */
  frame_axes?: "LPS" | "RAS" | "unknown";
  tool: {
    name: string;
    version: string;
    /**
     * Hash of the rule files used.
     */
    rule_set: string;
    /**
     * The hospital's own rule files, applied over the built-in ones, with the rules that each replaced or added.
     */
    local_rules?: {
      file: string;
      rules: string[];
    }[];
  };
  /**
   * The date that lead times count from, and where it came from. No clock is read.
   */
  today: {
    date?: string;
    from: "option" | "shelf" | "scan" | "unknown";
  };
  inputs: {
    path: string;
    sha256: string;
    bytes: number;
  }[];
  /**
   * Cracks of the surfaces that were closed, as surfaces.mend asks, widest first; no vertex was moved.
   */
  mended?: {
    structure: string;
    point_mm: Point;
    /**
     * Diameter of the largest circle that fits between its rims.
     */
    width_mm: number;
    length_mm: number;
  }[];
  /**
   * Open and blind ends of the surfaces that the case does not name, largest first.
   */
  unnamed_ends?: {
    count: number;
    /**
     * Total number of ends, named or not.
     */
    of: number;
    list: {
      point_mm: Point;
      calibre_mm: number;
      /**
       * The vessel that it joins or continues, or sac; absent where no path was found.
       */
      leads_to?: string;
      /**
       * Where it joins that vessel between far end and neck, from the far end.
       */
      at_mm?: number;
      /**
       * Its name among the branches of that vessel.
       */
      branch?: string;
    }[];
  };
  lesion: {
    side?: "left" | "right";
    lobe?: "upper" | "middle" | "lingula" | "lower";
    segments?: string[];
    kind?: "simple" | "complex" | "diffuse";
    kind_because?: string;
    /**
     * Date of the last closure, where the scan lies after it.
     */
    treated?: string;
    /**
     * Lesions that are in none of the surfaces, as given in the case.
     */
    other_lesions?: "yes" | "no" | "unknown";
    feeder_count?: number;
    feeders_absent_because?: string;
    drain_count?: number;
  };
  sac?: {
    volume_ml: number;
    volume_interval_ml?: Interval1;
    surface_cm2: number;
    longest_mm: number;
    /**
     * @minItems 3
     * @maxItems 3
     */
    axes_mm: [number, number, number];
    centre_mm?: Point;
  };
  /**
   * The parts of one surface that lie past the points of the case: neither measured nor printed.
   */
  left_out?: {
    pieces: number;
    volume_ml: number;
    share_percent: number;
    past: string[];
  };
  vessels: {
    [k: string]: Vessel;
  };
  neighbours?: {
    from: string;
    to: string;
    distance_mm: number;
    /**
     * @minItems 2
     * @maxItems 2
     */
    points_mm: [Point, Point];
  }[];
  /**
   * The visit on which the headline shunt, the closure and the devices are based.
   */
  baseline?: "before" | "after";
  shunt?: Shunt;
  shunt_after?: Shunt;
  /**
   * After minus before, as a fraction of cardiac output.
   */
  shunt_change?: {
    change: number;
    interval: Interval1;
  };
  closure: Closure[];
  /**
   * Feeders in the proposed order of closure: the largest share first.
   */
  closure_order?: string[];
  devices: {
    [k: string]: Device;
  };
  /**
   * Pulmonary pressure as measured, before anything is closed.
   */
  pulmonary_pressure?: {
    reading: "normal" | "raised" | "not classifiable" | "severe";
    class?: string;
    /**
     * Of the whole lung, shunt included, Wood units.
     */
    resistance_wu?: number;
    /**
     * Of the normal bed alone, Wood units.
     */
    bed_resistance_wu?: number;
    bed_resistance_interval_wu?: Interval1;
    text: string;
  };
  /**
   * For the hour of a bleed; on standby unless the lesion bleeds.
   */
  urgent?: {
    state: "bleeding" | "standby";
    /**
     * The first to close.
     */
    feeder?: string;
    /**
     * Device in stock that fits the first feeder; null where none does.
     */
    device_code: string | null;
    /**
     * Date of the shelf.
     */
    stock_as_of?: string;
    feeders: {
      name: string;
      calibre_mm?: number;
      calibre_interval_mm?: Interval1;
      landing_length_mm?: number;
      device_code: string | null;
      balloon_mm?: Interval1;
    }[];
    balloon_mm?: Interval2;
    clamp_site: string;
    call: {
      role: string;
      /**
       * As written in the case; absent: to be asked.
       */
      contact?: string;
    }[];
    steps: {
      id: string;
      text: string;
      source: string;
    }[];
  };
  resection?: Resection;
  readiness: {
    plan_a: Ready;
    plan_b: Ready;
    recommended: "embolise" | "resect" | "discuss";
    because: string[];
    triggers?: {
      id: string;
      direction: "a-to-b" | "b-to-a" | "stop-and-discuss";
      text: string;
      /**
       * True when this patient's own data already meet it.
       */
      applies: boolean;
      because?: string;
      source: string;
    }[];
    order_list?: {
      item: string;
      count: number;
      ready_by?: string;
      for?: string[];
    }[];
    /**
     * Id of the rule that made the recommendation.
     */
    decided_by?: string;
    /**
     * The best that can be done with the shelf as it is today, whatever the kind of device.
     */
    best_today?: {
      feeder: string;
      code: string;
      kind: string;
      diameter_mm: number;
      count: number;
    }[];
    follow_up?: {
      what: string;
      from?: string;
      to?: string;
      source: string;
    }[];
  };
  /**
   * Why there is no printable export of surfaces that were given.
   */
  print_absent_because?: string;
  /**
   * The printable export. Points named point_mm and to_mm are coordinates of the case; print_mm those of the printed files.
   */
  print?: {
    scale?: number;
    process?: string;
    hollow?: boolean;
    wall_mm?: number;
    origin_mm?: Point2;
    size_mm?: Point3;
    /**
     * From the assumed density, without supports and infill.
     */
    mass_g?: number;
    /**
     * Assumed.
     */
    density_g_cm3?: number;
    /**
     * Number of the printed model, on its tag and in every readings file: the first eight characters of model_sha256.
     */
    model_id?: string;
    /**
     * Hash of the printed body before its tag: coordinates, triangles, scale and wall.
     */
    model_sha256?: string;
    /**
     * Order of three landmarks as seen by the reader of the tag; reversed on a mirrored print.
     */
    handedness?: {
      turn: "clockwise" | "anticlockwise";
      landmarks: {
        what: string;
        point_mm: Point;
        print_mm: Point;
      }[];
    };
    tag_lines?: string[];
    /**
     * The limits of the process that were used.
     */
    limits?: {
      wall_mm: number;
      pin_mm: number;
      hole_mm: number;
      gap_mm: number;
      tolerance_mm: number;
    };
    parts: {
      name: string;
      role?: string;
      file?: string;
      watertight: boolean;
      volume_ml: number;
      min_wall_mm?: number;
      triangles: number;
      repairs?: string[];
      /**
       * Regions thinner than the process prints.
       */
      thin?: {
        point_mm: Point;
        print_mm: Point;
        thickness_mm: number;
        area_mm2: number;
      }[];
    }[];
    /**
     * Stretches of vessels that were thickened, mm of the true vessel from its far end.
     */
    thickened?: {
      name: string;
      from_mm: number;
      to_mm: number;
      narrowest_mm: number;
      printed_mm: number;
    }[];
    gauges: {
      name: string;
      kind?: "diameter" | "width" | "span" | "tag";
      what?: string;
      point_mm: Point;
      to_mm?: Point;
      along?: Point4;
      print_mm?: Point;
      print_to_mm?: Point;
      expected_mm: number;
      tolerance_mm: number;
      tolerance_source?: string;
      /**
       * The vessel of a diameter.
       */
      vessel?: string;
      /**
       * Of a feeder: deviation, as printed, from which another device on the shelf would be chosen.
       */
      device_change_mm?: number;
      not_to_size?: boolean;
    }[];
    /**
     * Number of readings of diameters that tell a bias from none, 98 times in 100.
     */
    readings_needed?: {
      /**
       * Assumed standard deviation of one reading.
       */
      reading_sd_mm: number;
      /**
       * Check points that are diameters.
       */
      diameters: number;
      /**
       * The least tolerance among them.
       */
      tolerance_mm?: number;
      /**
       * Number of readings that prove an accurate print.
       */
      least?: number;
      /**
       * Readings at each point.
       */
      each?: number;
      to_tell: {
        bias_mm: number;
        readings: number;
      }[];
    };
    /**
     * Where the model was cut into half A, on the side of the normal, and half B.
     */
    cut?: {
      point_mm: Point;
      print_mm: Point;
      normal: Point;
      /**
       * The vessel that was cut off at its neck.
       */
      vessel?: string;
      /**
       * Lugs on the outside of a hollow model, which hold the pegs; not anatomy.
       */
      lugs?: number;
      halves: {
        name: string;
        side: string;
      }[];
      /**
       * Pegs and the half that bears each; the other has the socket, wider by fit_mm on each side.
       */
      pegs: {
        on: string;
        point_mm: Point;
        print_mm: Point;
        diameter_mm: number;
        length_mm: number;
        fit_mm: number;
      }[];
    };
    /**
     * Rods that hold structures in place; not anatomy.
     */
    struts?: {
      from: string;
      to: string;
      ends_mm: Point[];
      print_ends_mm: Point[];
      diameter_mm: number;
      length_mm: number;
    }[];
    /**
     * How each body of model.3mf stands on the bed.
     */
    bed?: {
      name: string;
      /**
       * Patient direction, or axis of the surfaces, that points up.
       */
      up: string;
      /**
       * Flat area on the bed.
       */
      foot_mm2: number;
      /**
       * The case says which side is up.
       */
      asked: boolean;
      /**
       * No flat foot: a raft or supports are needed.
       */
      on_point: boolean;
    }[];
    /**
     * Downward faces that are flatter than the process prints without support, for the build direction of the case and for the five others.
     */
    overhang?: {
      /**
       * Patient direction that points up in the printer; of unknown axes, +z and so on.
       */
      up: string;
      /**
       * Angle from the horizontal below which a face needs support; absent: the process needs none.
       */
      below_deg?: number;
      area_cm2: number;
      source: string;
      turned: {
        up: string;
        area_cm2: number;
      }[];
    };
    /**
     * Whether each body fits the build space given in the case; absent where the case gives none.
     */
    build_volume?: {
      inside_mm: Point;
      bodies: {
        name: string;
        size_mm: Point5;
        /**
         * As it stands.
         */
        fits: boolean;
        /**
         * Sizes along width, depth and height after quarter turns that fit.
         */
        turned: Point[];
      }[];
    };
    /**
     * Rough time and material for everything printed together.
     */
    estimate?: {
      /**
       * Of the bodies, filled.
       */
      volume_ml: number;
      height_mm: number;
      support_ml?: number;
      material_ml: Interval1;
      material_g: Interval1;
      hours: Interval1;
      assumptions: string[];
      source: string;
    };
    /**
     * By how much an accurate print can still be wrong at each feeder's landing zone, at true size.
     */
    error_chain?: {
      vessel: string;
      /**
       * Standard deviation.
       */
      scan_mm?: number;
      segmentation_mm: number;
      segmentation_from: "measured" | "published";
      /**
       * With its sign.
       */
      thickening_mm: number;
      /**
       * With its sign.
       */
      simplification_mm: number;
      process_mm: number;
      /**
       * Size of the known shift plus 1.96 times the root of the sum of squares.
       */
      total_mm: number;
    }[];
    /**
     * Deviations of printed models in published studies.
     */
    accuracy?: {
      text: string;
      source: string;
    }[];
  };
  checklist: {
    id: string;
    level: "stop" | "caution" | "note" | "ok";
    moment?: "planning" | "sign-in" | "time-out" | "sign-out" | "after";
    text: string;
    because: string;
    source: string;
  }[];
  findings: {
    id: string;
    level: "stop" | "caution" | "note";
    where: string;
    text: string;
  }[];
  cautions: string[];
}
export interface Vessel {
  role: "feeder" | "drain" | "branch" | "systemic-feeder";
  of?: string;
  spare?: boolean;
  supplies?: string;
  arises_from?: string;
  /**
   * From the far end to the neck, of a branch to its parent; absent without a neck.
   */
  length_mm?: number;
  length_interval_mm?: Interval1;
  /**
   * Centreline length divided by the straight distance between its ends.
   */
  tortuosity?: number;
  calibre_mm: {
    min: number;
    mean: number;
    max: number;
  };
  profile: {
    at_mm: number;
    equivalent_mm: number;
    min_mm: number;
    max_mm: number;
    area_mm2: number;
    /**
     * True where a branch opens and the outline was closed at the neighbouring wall.
     */
    at_opening?: boolean;
  }[];
  neck?: {
    at_mm: number;
    point_mm: Point;
    calibre_mm?: number;
  };
  branches: {
    name: string;
    at_mm: number;
    from_mm?: number;
    to_mm?: number;
    calibre_mm?: number;
  }[];
  landing?: {
    from_mm: number;
    to_mm: number;
    length_mm: number;
    calibre_mm: number;
    calibre_interval_mm: Interval1;
    largest_width_mm?: number;
    /**
     * The calibre measured in the scan itself over the zone.
     */
    image_calibre_mm?: number;
    image_calibre_interval_mm?: Interval1;
    /**
     * (largest - smallest) / mean of the equivalent calibre over the zone.
     */
    taper_percent: number;
    to_sac_mm: number;
    to_branch_mm?: number;
    centre_mm?: Point;
    view?: {
      /**
       * LAO positive.
       */
      lao_rao_deg: number;
      /**
       * Cranial positive.
       */
      cran_caud_deg: number;
    };
    view_absent_because?: string;
  };
  landing_absent_because?: string;
  /**
   * The wall of the surface compared with that of the scan, where the surface lies in it.
   */
  wall?: {
    /**
     * Surface minus image, of the equivalent calibre; positive: drawn too wide. Absent with fewer than five stations.
     */
    offset_mm?: number;
    offset_interval_mm?: Interval1;
    stations_used: number;
    stations: {
      at_mm: number;
      surface_mm: number;
      image_mm: number;
    }[];
  };
  centreline_mm?: Point[];
}
export interface Shunt {
  fraction?: number;
  interval?: Interval1;
  /**
   * Only where the fraction cannot be told from 0: it is then 0, and at most this.
   */
  upper_limit?: number;
  /**
   * What the equation gives where the fraction cannot be told from 0; it may be negative.
   */
  equation_fraction?: number;
  method: "content" | "dissolved" | "room-air";
  /**
   * Before or after the treatment.
   */
  when?: "before" | "after";
  sample?: string;
  alveolar_po2_mmhg?: number;
  barometric_mmhg?: number;
  arterial_saturation_percent?: number;
  end_capillary_content_ml_dl?: number;
  arterial_content_ml_dl?: number;
  venous_content_ml_dl?: number;
  av_difference_ml_dl?: number;
  av_difference_basis?: "mixed-venous" | "fick" | "assumed";
  /**
   * Where the values with the same keys come from.
   */
  origins?: {
    barometric_mmhg?: Origin;
    arterial_saturation_percent?: Origin;
    av_difference_ml_dl?: Origin;
  };
  /**
   * The short form shown beside the content form; refused below full saturation.
   */
  dissolved_only?: {
    fraction?: number;
    refused_because?: string;
  };
  /**
   * The result with the other arterial saturation (measured or from the curve), for comparison.
   */
  other_saturation?: {
    fraction: number;
    basis: string;
  };
  /**
   * The result with another assumed arterio-venous difference.
   */
  sensitivity?: {
    av_difference_ml_dl: number;
    fraction: number;
    interval?: Interval1;
    source?: string;
  }[];
  assumed: string[];
  absent_because?: string;
}
export interface Closure {
  closed: string[] | "lobe";
  occlusion_percent?: number;
  shunt_fraction?: number;
  /**
   * Where other lesions may carry part of the shunt: a lower bound. Saturations are then upper bounds.
   */
  shunt_fraction_is?: "at-least";
  so2_room_air_percent?: number;
  so2_on_oxygen_percent?: number;
  /**
   * Upper bound: output unchanged, no recruitment of the normal bed.
   */
  mean_pa_pressure_mmhg?: number;
  /**
   * Lower bound: driving pressure unchanged.
   */
  cardiac_output_l_min?: number;
  remaining?: {
    [k: string]: {
      flow_l_min: number;
      share?: number;
      share_range?: Interval1;
    };
  };
  intervals?: {
    shunt_fraction?: Interval1;
    so2_room_air_percent?: Interval1;
    so2_on_oxygen_percent?: Interval1;
    mean_pa_pressure_mmhg?: Interval1;
    cardiac_output_l_min?: Interval1;
  };
  assumed?: string[];
  absent_because?: string;
}
export interface Device {
  window_mm?: Interval1;
  kind?: "vascular-plug" | "micro-plug" | "detachable-coil" | "pushable-coil";
  code?: string;
  diameter_mm?: number;
  length_mm?: number;
  count?: number;
  oversize_percent?: number;
  oversize_interval_percent?: Interval1;
  rule?: string;
  rule_source?: string;
  needs_lumen_mm?: number;
  on_shelf?: boolean;
  ready_by?: string;
  alternates: {
    code: string;
    kind: string;
    diameter_mm: number;
    oversize_percent: number;
    count?: number;
    on_shelf?: boolean;
    ready_by?: string;
    rule?: string;
  }[];
  rejected: {
    code: string;
    kind?: "vascular-plug" | "micro-plug" | "detachable-coil" | "pushable-coil";
    why: string;
    size?: {
      diameter_mm: number;
      oversize_percent: number;
      window_percent?: Interval1;
      window_mm?: Interval1;
      is_nearest: boolean;
    };
  }[];
  borderline: boolean;
  /**
   * The choice by the calibre that the scan shows, where surface and scan disagree.
   */
  by_image?: {
    calibre_mm: number;
    code?: string;
    diameter_mm?: number;
    oversize_percent?: number;
  };
  borderline_because?: string;
  packing?: {
    density_percent: number;
    note: string;
  };
  absent_because?: string;
  if_none?: string;
}
export interface Resection {
  lobe?: string;
  procedure?: string;
  extent?: "lobe" | "segments" | "wedge";
  /**
   * Segments taken, as counted: S1 and S2 apart, left S7+8 as one.
   */
  segments?: string[];
  /**
   * What the surfaces show of the room between the lesion and what stays, where less than a lobe is taken.
   */
  margin?: string[];
  /**
   * Only the segments instead of the lobe, where lung function is short or other lesions exist.
   */
  lung_sparing?: {
    because: string[];
    segments?: string[];
    predicted_fev1_l?: number;
    predicted_fev1_percent?: number;
    predicted_fev1_percent_interval?: Interval1;
    predicted_dlco_percent?: number;
    predicted_dlco_percent_interval?: Interval1;
    predicted_because?: string;
    predicted_reading?: string;
    absent_because?: string;
  };
  spare: {
    name: string;
    supplies?: string;
    to_division_mm?: number;
    to_division_absent_because?: string;
    division?: string;
  }[];
  steps: {
    id: string;
    stage: string;
    text: string;
    see?: string;
    /**
     * Names of the structures mentioned in see.
     */
    shows?: string[];
    source: string;
  }[];
  predicted_fev1_l?: number;
  predicted_fev1_percent?: number;
  predicted_fev1_percent_interval?: Interval3;
  predicted_dlco_percent?: number;
  predicted_dlco_percent_interval?: Interval1;
  predicted_because?: string;
  predicted_reading?: string;
  leak_test?: {
    cmh2o: number;
    mmhg: number;
    note?: string;
  };
  /**
   * Structures of the lobe to look for and to keep, from anatomy, whether or not the model holds them.
   */
  at_stake?: {
    name: string;
    text: string;
    source: string;
  }[];
  absent_because?: string;
}
export interface Ready {
  ready_today: boolean;
  ready_by?: string;
  ready_by_absent_because?: string;
  missing: string[];
  unknown?: string[];
}
