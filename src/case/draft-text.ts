/** The text before and after the surfaces in a drafted case file. `{id}` and `{scan}` are filled in. */
export const DRAFT_HEAD = `# Case file. A quantity is a number with its unit ("8.5 mm", "28 kPa"). Yes/no keys take yes or no.
# Every line that starts with "#" may be left out; what then cannot be computed is absent from the plan, which says why.
# Delete the "#" and put in the patient's own value: the values shown are examples.
format: pavm-case/1
id: {id}                 # small letters, digits, hyphens; no personal data, it appears in every output
# title: One line that names the lesion
purpose: clinical        # CHECK: clinical | teaching | demo; demo means invented data

{scan}

# patient:
#   age: 46 y                  # y, months, weeks or days
#   sex: female                # female | male | other | unknown
#   weight: 62 kg              # kg, g or lb
#   height: 168 cm             # cm, m, inch or ft
#   pregnant: no               # yes | no | unknown; with yes also  gestation: 20 wk
#   history: [haemoptysis]     # haemoptysis, stroke, tia, brain-abscess, migraine, epistaxis, haemothorax,
#                              # pulmonary-hypertension, renal-impairment, hht-family, atrial-fibrillation, heart-failure,
#                              # liver-avm, iron-deficiency
#   hht: { epistaxis: unknown, telangiectasia: unknown, visceral_lesion: yes, first_degree_relative: unknown }
#   allergies: [nickel]        # nickel, iodinated-contrast, latex, or another word; [] means none known
#   anticoagulated: no         # yes | no | unknown; with yes also
#                              # anticoagulant: { agent: TEXT, dose: TEXT, last_dose: 2026-03-14 07:30 }
#   blood_group: A pos         # as written; printed as unverified
#   oximetry: { lying: 91 %, standing: 84 % }   # pulse oximetry on room air
#   heart_rate: 72 /min        # at rest
#   creatinine: 74 umol/L      # umol/L or mg/dL
#   egfr: 90 mL/min/1.73m2     # estimated glomerular filtration rate
#   spirometry: { fev1: 2.9 L, fev1_percent: 88 %, dlco_percent: 74 % }

# blood: { haemoglobin: 15 g/dL, haematocrit: 45 %, ferritin: 80 ug/L, transferrin_saturation: 28 % }   # haemoglobin also g/L, or mmol/L of the monomer

# gases:                       # any number of samples
#   - name: on-oxygen
#     when: before             # before | after treatment
#     on: 2026-03-12           # date of the sample
#     fio2: 1.0                # inspired oxygen as a fraction, 0.21 to 1
#     minutes_on_oxygen: 20    # minutes
#     site: arterial           # arterial | mixed-venous
#     po2: 210 mmHg            # mmHg or kPa
#     pco2: 34 mmHg            # mmHg or kPa
#     ph: 7.42
#     so2: 98.5 %              # only if measured by co-oximetry
#     temperature: 37 degC     # degC, K or degF; 37 degC when left out
#     altitude: 540 m          # or  pressure: 712 mmHg  (measured at the place, not reduced to sea level)

# circulation: { cardiac_output: 6.4 L/min, mean_pa_pressure: 18 mmHg, wedge_pressure: 9 mmHg, oxygen_uptake: 240 mL/min }
#                              # cardiac_output_method: thermodilution | fick-measured | fick-assumed | echo | mri
#                              # oxygen_uptake_method: measured | assumed

# lesion: { side: left, lobe: lower, segments: [S9, S10] }   # side: left | right; lobe: upper | middle | lingula | lower; kind: simple | complex | diffuse; treated: 2025-06-12, date of the last closure where the scan lies after it; other_lesions: yes | no | unknown, lesions that no surface here holds

# bleeding: { now: no, within_24_h: no, stable: unknown, into: unknown }   # yes | no | unknown each; into: airway | chest | both | unknown; on: 2026-03-18, date of the bleed
# team: { interventionist: NAME 0100, surgeon: NAME 0101, anaesthesia: NAME 0102 }   # whom to call, printed as written;
#                              # also blood_bank, obstetrics, hyperbaric_centre, or a role of your own
`;

export const DRAFT_TAIL = `
shelf: shelf.yaml              # CHECK: the hospital's own devices; a path outside this folder needs --root DIR that holds it
# planned: { date: 2026-04-02, approach: auto }   # approach: auto | embolise | resect
#                              # session: { contrast_limit: 250 mL, one_lung: yes, most_feeders: 4, gap: 28 d }, the hospital's own limits
# surgery: { one_lung_ventilation: yes, leak_test: 30 cmH2O }   # the unit matters: 30 mmHg is 41 cmH2O
#                              # extent: lobe | segments | wedge, with segments: [S8]; obstructed_segments: [S9], those that no longer breathe
# at_hand: { snare: yes, blood: yes, clamps: no }   # what somebody has looked for: yes at hand, no missing; else to be confirmed
#                              # plan A: catheter, snare, balloon; plan B: blood, clamps, sutures, stapler, print
# print: { scale: 1, process: material-extrusion, wall: 1.2 mm, hollow: no }
#                              # process: material-extrusion | vat-photopolymerisation | material-jetting | powder-bed
#                              # build_volume: [200 mm, 200 mm, 180 mm]   build_up: superior   (patient direction that points up)
#                              # cut: { neck: A1 }   or { axis: left, at: 20 mm }   or { point: [0, 0, 0], normal: [0, 0, 1] }
#                              # struts: auto | yes | no   (rods to what does not touch; yes: airway, heart and chest wall too)
# expected:                    # teaching cases only: the answer key
#   - { value: shunt.fraction, equals: 0.31, within: 0.02 }
#   - { finding: open-surface, present: no }
`;

/** A shelf file without devices: nothing is proposed that the hospital does not have. */
export const DRAFT_SHELF = `# Shelf file: the devices that the hospital has or can order, under codes of its own, one entry for each size.
# Sizes are those of each device's own instructions for use. Lines that start with "#" are examples, not devices.
format: pavm-shelf/1
# as_of: 2026-03-20           # CHECK: date of the count; lead times run from it
devices: []                   # CHECK: delete the brackets and list the devices below
#  - code: PLUG-08            # the hospital's own code
#    kind: vascular-plug      # vascular-plug | micro-plug | detachable-coil | pushable-coil
#    diameter: 8 mm           # nominal, expanded
#    length: 7 mm             # deployed; of a coil the length of the wire
#    needs_lumen: 1.8 mm      # inner lumen of the catheter
#    in_stock: 2
#    lead_time: 21 d
#    nickel: yes              # yes | no | unknown
#    vessel_min: 5 mm         # where the instructions for use give a range of vessels
#    vessel_max: 6.2 mm
`;

/** The block `scan` of a draft without a series. */
export const DRAFT_SCAN = `# scan:
#   date: 2026-03-14           # ISO date of the CT
#   slice_thickness: 0.8 mm    # with in_plane: the resolution, on which the interval of every calibre depends
#   in_plane: 0.7 mm           # pixel size within a slice
#   series: ct/                # folder of the DICOM CT series: what is left open above is then read from it
#   series_number: 4           # which series of the folder, where it holds several`;
